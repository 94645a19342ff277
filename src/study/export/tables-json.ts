import { combtoneVersion } from '../version.ts';
import type { ExportFormat } from './export-format.ts';
import { jsonParts } from './json-parts.ts';

/** All tables as one object; null where a cell is empty. Pulses and events are only in their tables: they are long. */
export const tablesJsonFormat: ExportFormat = ({ view: { study }, tables }) => {
  const { pulses: _, events: __, ...others } = tables;
  const object = {
    format: 'combtone study tables',
    formatVersion: 1,
    combtoneVersion,
    settings: study.settings,
    ...others,
  };
  return [['study-tables.json', jsonParts(object)]];
};
