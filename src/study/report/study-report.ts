import { studyDay } from '../day/study-day.ts';
import { plotlySource } from '../figures/write-figures.ts';
import { allRecordings } from '../store/recordings.ts';
import { studyFindings } from '../study-findings.ts';
import { studyMap } from '../study-map.ts';
import type { StudyView } from '../study-view.ts';
import { shortCautions } from './cautions.ts';
import { escapeHtml, list, paragraph } from './html.ts';
import { methodsSection } from './methods.ts';
import { recordingsSection } from './overview.ts';
import { figurePlaces, reportPage } from './page.ts';
import { calibrationSection, dancesSection, daySection, mapSection } from './results.ts';
import { treatmentsSection } from './treatments.ts';

/**
 * A study as one HTML page that holds all it needs and prints well. It is made of the study alone, with no clock of
 * its own: the same study gives the same bytes.
 *
 * @param named the study's folder, as the user named it
 * @param level probability of the intervals
 * @throws InputError for an arrivals.csv that is wrong
 */
export async function studyReport(view: StudyView, named: string, level: number): Promise<string> {
  const findings = studyFindings(view, level);
  const day = await studyDay(view, findings);
  const { placed, place } = figurePlaces();
  const { name, speciesNote } = view.study.settings;
  const body = [
    `<header><h1>${escapeHtml(name)}</h1>`,
    paragraph(subtitle(view)),
    ...(speciesNote === null ? [] : [paragraph(speciesNote)]),
    `<nav aria-label="Contents">${contents.map(([id, title]) => `<a href="#${id}">${title}</a>`).join(' ')}</nav></header>`,
    '<main>',
    recordingsSection(view),
    calibrationSection(findings, named, place),
    dancesSection(findings),
    treatmentsSection(view, level),
    mapSection(view, findings, studyMap(view.study, findings), place),
    daySection(view, findings, day, place),
    methodsSection(view, findings),
    `<section id="cautions" class="box"><h2>Cautions</h2>${list(shortCautions)}</section>`,
    '</main>',
  ].join('\n');
  return reportPage(`${name}: report by combtone`, body, placed, await plotlySource());
}

const contents = [
  ['recordings', 'Recordings'],
  ['calibration', 'Calibration'],
  ['dances', 'Dances'],
  ['treatments', 'Treatments'],
  ['map', 'Map'],
  ['day', 'Over the day'],
  ['methods', 'Methods'],
  ['cautions', 'Cautions'],
] as const;

/** Where, when, and how far the study had come. */
function subtitle({ study }: StudyView): string {
  const { latitude, longitude, timeZone } = study.settings.hive;
  const starts = allRecordings(study.store)
    .flatMap(({ startTime }) => startTime ?? [])
    .sort();
  const last = study.store.prepare('SELECT max(at) FROM events').pluck().get() as string | null;
  const place =
    latitude === null || longitude === null
      ? 'Hive without coordinates'
      : `Hive at latitude ${latitude}, longitude ${longitude}${timeZone === null ? '' : ` (${timeZone})`}`;
  const recorded =
    starts.length === 0
      ? ''
      : `; recorded from ${starts[0]}${starts.length > 1 ? `, last start ${starts.at(-1)}` : ''}`;
  return `${place}${recorded}; as the study stood ${last === null ? 'before anything was done in it' : `after its last event, ${last}`}.`;
}
