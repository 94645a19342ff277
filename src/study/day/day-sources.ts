import type { DaySources } from '../figures/day-figures.ts';
import type { StudyFindings } from '../study-findings.ts';
import { siteOf } from '../study-folder.ts';
import type { StudyView } from '../study-view.ts';

/** What figures over the day draw the comb angle to expect from: the feeders, on the day of the middle dance. */
export function daySources({ study }: StudyView, { dances, feeders }: StudyFindings): DaySources | null {
  const site = siteOf(study.settings);
  const instants = dances.flatMap(({ instant }) => instant ?? []).sort((a, b) => a - b);
  const instant = instants[Math.floor(instants.length / 2)];
  if (site === null || instant === undefined || study.settings.comb.orientation !== 'vertical') return null;
  return { site, timeZone: study.settings.hive.timeZone, feeders, instant };
}
