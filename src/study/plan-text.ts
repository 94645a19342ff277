import type { PlannedDesign, PlanOptions } from '../calibration/plan.ts';
import { counted } from './counted.ts';
import { textTable } from './text-table.ts';

/** A plan as it is printed and written. */
export interface PlanReport {
  readonly options: PlanOptions;
  /** Half-width (m) that no calibration study can better. */
  readonly leastHalfWidthM: number;
  /** By number of dances in all, the fewest first. */
  readonly designs: readonly PlannedDesign[];
  /** The design with the fewest dances that reaches the half-width in four studies of five; null if none does. */
  readonly smallest: PlannedDesign | null;
}

// What is called reached: in four studies of five.
const wantedShare = 0.8;

/** Orders designs and picks the smallest that reaches what is wanted. */
export function planReport(
  options: PlanOptions,
  leastHalfWidthM: number,
  designs: readonly PlannedDesign[],
): PlanReport {
  const ordered = [...designs].sort(
    (left, right) => left.allDances - right.allDances || left.bees - right.bees,
  );
  const smallest = ordered.find(({ reached }) => reached >= wantedShare) ?? null;
  return { options, leastHalfWidthM, designs: ordered, smallest };
}

/** A plan for people to read. */
export function planText({ options, leastHalfWidthM, designs, smallest }: PlanReport): string {
  const { distanceM, halfWidthM, level, newRuns, studies } = options;
  const percent = `${Number((100 * level).toPrecision(4))} %`;
  const rows = designs.map((design) => [
    String(design.feeders),
    String(design.bees),
    String(design.dances),
    String(design.allDances),
    design.halfWidthM.toFixed(0),
    design.mostlyUnderM.toFixed(0),
    `${(100 * design.reached).toFixed(0)} %`,
  ]);
  const header = [
    'feeders',
    'bees',
    'dances each',
    'in all',
    '± m, median',
    '± m, 9 in 10',
    `± ${halfWidthM} m`,
  ];
  const lines = [
    `One dance of ${newRuns} used runs at ${distanceM} m by a bee not met before, ${percent} interval; ` +
      `${studies} simulated studies of each design.`,
    textTable([header, ...rows]),
    `With curve and scatter known for certain the interval would be ± ${leastHalfWidthM.toFixed(0)} m.`,
  ];
  if (smallest !== null) {
    const { feeders, bees, dances, allDances } = smallest;
    lines.push(
      `Fewest dances that keep within ± ${halfWidthM} m in at least ${100 * wantedShare} % of studies: ${allDances} ` +
        `(${feeders} feeders, ${bees} bees, ${counted(dances, 'dance')} of each bee at each feeder).`,
    );
  } else if (leastHalfWidthM > halfWidthM) {
    lines.push(
      `± ${halfWidthM} m cannot be had from one such dance, whatever the calibration: use more runs of it ` +
        '(--new-runs), or several dances for the same place.',
    );
  } else {
    lines.push(`None of these designs keeps within ± ${halfWidthM} m in ${100 * wantedShare} % of studies.`);
  }
  return `${lines.join('\n\n')}\n`;
}
