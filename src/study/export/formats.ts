import { cuesFormat } from './cues-format.ts';
import type { ExportFormat } from './export-format.ts';
import { placesFormat } from './places-geojson.ts';
import { tablesJsonFormat } from './tables-json.ts';

/** Every format that an export holds beside its tables. */
export const exportFormats: readonly ExportFormat[] = [tablesJsonFormat, placesFormat, cuesFormat];
