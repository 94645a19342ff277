import type { StudyFindings } from '../study-findings.ts';
import type { StudyView } from '../study-view.ts';
import type { ExportTables } from './schemas.ts';

/** What an export is made of. */
export interface ExportContents {
  readonly view: StudyView;
  readonly findings: StudyFindings;
  readonly tables: ExportTables;
}

/**
 * A format beside the tables: the files it adds to an export, each with its path in the export's folder, forward
 * slashes between, and its text, whole or, where it may be long, in pieces. One file each, one line each in
 * `formats.ts`. The same study gives the same bytes.
 */
export type ExportFormat = (
  contents: ExportContents,
) => Iterable<readonly [path: string, text: string | Iterable<string>]>;
