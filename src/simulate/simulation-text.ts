import { counted } from '../study/counted.ts';
import type { DurationCurve } from './curve.ts';
import type { SimulatedFiles } from './simulate-hive.ts';

/** How many of each thing a simulated recording holds. */
export interface SimulationCounts {
  readonly dances: number;
  readonly trains: number;
  readonly pulses: number;
  readonly begging: number;
  readonly piping: number;
  readonly tooting: number;
  readonly quacking: number;
  readonly other: number;
}

/** Counts the rows of the truth. */
export function simulationCounts({ truth }: Pick<SimulatedFiles, 'truth'>): SimulationCounts {
  const calls = (kind: string) => truth.calls.filter((call) => call.kind === kind).length;
  return {
    dances: truth.dances.length,
    trains: truth.trains.length,
    pulses: truth.pulses.length,
    begging: calls('begging'),
    piping: calls('piping'),
    tooting: calls('tooting'),
    quacking: calls('quacking'),
    other: calls('other'),
  };
}

/** A table for people of what was simulated: the recording, what it holds, and its dances. */
export function simulationText(files: SimulatedFiles): string {
  const { plan, truth } = files;
  const { options } = plan;
  const counts = simulationCounts(files);
  const lines = [
    'Simulated data: no bee made these sounds.',
    '',
    `recording    ${files.recordingPath}`,
    `truth        ${files.truthFolder}`,
    `length       ${options.lengthS} s at ${options.sampleRateHz} Hz, ${options.encoding}, ` +
      `${counted(options.microphones.length, 'channel')}, seed ${options.seed}`,
    `SNR          ${options.snrDb} dB (pulse over background in 200 to 400 Hz within 2 s)`,
    `curve        ${curveText(plan.curve)}`,
    `disturbances ${options.disturbances.map(({ kind }) => kind).join(', ') || 'none'}`,
    `holds        ${counted(counts.dances, 'dance')}, ${counted(counts.trains, 'train')}, ${counted(counts.pulses, 'pulse')}`,
    `calls        ${counts.begging} begging, ${counts.piping} piping, ${counts.tooting} tooting, ` +
      `${counts.quacking} quacking, ${counts.other} other`,
  ];
  if (files.clippedSampleCount > 0) {
    lines.push(`clipped      ${files.clippedSampleCount} samples lay beyond full scale`);
  }
  if (truth.dances.length > 0) {
    lines.push('', '  dance  bee       distance m   runs  mean run s  circuits per 15 s  treatment');
    for (const dance of truth.dances) lines.push(danceLine(dance));
  }
  return lines.join('\n');
}

function danceLine(dance: SimulatedFiles['truth']['dances'][number]): string {
  const cells = [
    `  ${dance.dance_id.padEnd(6)}`,
    (dance.bee_id ?? '').padEnd(9),
    String(dance.distance_m ?? '').padStart(10),
    String(dance.run_count).padStart(6),
    (dance.mean_duration_s?.toFixed(3) ?? '').padStart(11),
    (dance.circuits_per_15s?.toFixed(2) ?? '').padStart(18),
    ` ${dance.treatment ?? ''}`,
  ];
  return cells.join(' ').trimEnd();
}

function curveText(curve: DurationCurve): string {
  return curve.kind === 'line'
    ? `${curve.interceptS} s + ${curve.slopeSPerM.toFixed(6)} s/m`
    : `${curve.interceptS} s + ${curve.riseS} s (1 - exp(-distance / ${curve.scaleM} m))`;
}
