import { misdirectionAt } from '../bearing/misdirection.ts';
import type { Bearings } from './bearings.ts';
import { counted } from './counted.ts';
import { textTable } from './text-table.ts';

/** Bearings for people to read: one line per dance, then what was learnt of scatter and misdirection. */
export function bearingsText(bearings: Bearings): string {
  const fixed = (value: number | null, decimals = 1) => (value === null ? '' : value.toFixed(decimals));
  const header = [
    'dance',
    'runs',
    'comb °',
    'sun °',
    'elevation °',
    'bearing °',
    'low °',
    'high °',
    'kappa',
    'flags',
  ];
  const rows = bearings.rows.map((row) => [
    row.dance_id,
    String(row.used_runs),
    fixed(row.comb_angle_deg),
    fixed(row.sun_azimuth_deg),
    fixed(row.sun_elevation_deg),
    fixed(row.bearing_deg),
    fixed(row.bearing_low_deg),
    fixed(row.bearing_high_deg),
    fixed(row.kappa),
    row.flags ?? '',
  ]);
  return `${[textTable([header, ...rows]), '', ...learntLines(bearings)].join('\n')}\n`;
}

function learntLines({ runScatter, directionCalibration, knownDances }: Bearings): string[] {
  const lines: string[] = [];
  if (runScatter === null)
    lines.push('Scatter of runs: unknown, no dance has two runs with an angle (or give --run-sd)');
  else {
    const freedom = runScatter.degreesOfFreedom;
    const from = Number.isFinite(freedom) ? `${freedom} degrees of freedom` : 'given';
    lines.push(`Scatter of runs about their dance: kappa ${runScatter.kappa.toFixed(1)} (${from})`);
  }
  if (directionCalibration === null) {
    lines.push(
      `No directional calibration (${counted(knownDances, 'dance')} to feeders of known bearing; 5 are wanted, on a vertical comb): ` +
        'intervals hold the scatter of runs alone, not that of dances, nor misdirection',
    );
    return lines;
  }
  const cells = [0, 90, 180, 270].map((angle) => {
    const { biasDeg, danceSdDeg, danceKappa } = misdirectionAt(directionCalibration, angle);
    return [`${angle}`, biasDeg.toFixed(1), danceSdDeg.toFixed(1), danceKappa.toPrecision(3)];
  });
  lines.push(
    `Directional calibration: ${directionCalibration.dances} dances to known feeders, ` +
      `${directionCalibration.forms[0].order} harmonics of comb angle in the likeliest of ${directionCalibration.forms.length} forms, all weighed`,
    textTable([['comb °', 'misdirection °', 'SD of dances °', 'kappa'], ...cells]),
  );
  return lines;
}
