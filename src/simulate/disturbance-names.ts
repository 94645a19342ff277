import type { PartialSimulationOptions } from './options.ts';

/** A disturbance as options give it: what is left out is usual. */
type DisturbanceOptions = NonNullable<PartialSimulationOptions['disturbances']>[number];

const kinds: Readonly<Record<string, DisturbanceOptions>> = {
  gain: { kind: 'gain' },
  'gain-step': { kind: 'gain-step' },
  'dc-offset': { kind: 'dc-offset' },
  inverted: { kind: 'inverted' },
  'mains-50': { kind: 'mains', frequencyHz: 50 },
  'mains-60': { kind: 'mains', frequencyHz: 60 },
  speech: { kind: 'speech' },
  wind: { kind: 'wind' },
  fan: { kind: 'fan' },
  clipping: { kind: 'clipping' },
  dropouts: { kind: 'dropouts' },
};

/** Names by which disturbances of usual strength can be asked for. */
export const disturbanceNames: readonly string[] = Object.keys(kinds);

/** A disturbance of usual strength. @param name one of `disturbanceNames` */
export function disturbanceNamed(name: string): DisturbanceOptions {
  return kinds[name]!;
}
