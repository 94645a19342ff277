import { type ClockFindings, clockFindings, clockWarnings } from '../study/day/clock-words.ts';
import type { StudyFindings } from '../study/study-findings.ts';
import { type OpenStudy, siteOf } from '../study/study-folder.ts';
import { warn } from '../study/warn.ts';

/** Says on stderr what is amiss with clock and comb of a study, for bearings rest on both. */
export function tellClock({ settings }: OpenStudy, findings: StudyFindings): ClockFindings {
  const vertical = settings.comb.orientation === 'vertical';
  const clock = clockFindings(findings, siteOf(settings), vertical);
  for (const words of clockWarnings(clock)) warn(words);
  return clock;
}
