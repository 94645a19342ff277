import { turnDeg, within360 } from './angles.ts';
import { circularSummary } from './circular-summary.ts';
import { combAngleTo } from './comb-angle.ts';
import { type Site, sunPosition } from './sun.ts';

/** A dance on a vertical comb, to a source that stays where it is. */
export interface TimedAngle {
  /** Milliseconds since 1970-01-01T00:00Z, as the clock says. */
  readonly instant: number;
  /** Clockwise from straight up, degrees. */
  readonly combAngleDeg: number;
  /** Names the source; dances of one name are to one place. */
  readonly source: string;
  /** Bearing of the source, degrees; null where it is not known. */
  readonly bearingDeg: number | null;
}

/** Something amiss with clock or comb that would make the dances fit better. */
export interface Amiss {
  readonly kind: 'clock' | 'comb' | 'mirrored';
  /** Hours to add to the clock (clock), degrees to add to the comb angles (comb), 0 (mirrored). */
  readonly amount: number;
  /** Root mean square of the deviations that are left, degrees. */
  readonly deviationDeg: number;
  /** AICc less that of clock and comb as they are; below 0 fits better. */
  readonly aiccDifference: number;
}

/** What dances say of the clock and the comb. */
export interface ClockCheck {
  readonly dances: number;
  /** Root mean square of the deviations with clock and comb as they are, degrees. */
  readonly deviationDeg: number;
  /** What would fit better, the best first: by more than 6 in AICc, and by a fifth of the deviation. */
  readonly better: readonly Amiss[];
}

const nightDeg = -6;
const stepHours = 0.5;
const mostHours = 12;
const fewestDances = 4;
const leastGain = 6;
// An eye and a protractor read no finer: without this a perfect fit would outdo everything by any margin.
const finestDeg = 1;

/**
 * Checks clock and comb by dances to constant sources: over the day the comb angle must turn as the sun's azimuth
 * does. Tried are the clock wrong by −12 to 12 hours in half hours, the comb turned by a constant angle (which only
 * sources of known bearing can show), and angles read counterclockwise; each is weighed by AICc of normal deviations
 * (Burnham & Anderson 2002, Model Selection and Multimodel Inference, section 2.4, from memory).
 *
 * @returns null for fewer than four dances by day, or none that could show anything
 */
export function checkClock(site: Site, dances: readonly TimedAngle[]): ClockCheck | null {
  const byDay = dances.filter(({ instant }) => sunPosition(site, instant).elevationDeg >= nightDeg);
  const sources = grouped(byDay, ({ source }) => source);
  const telling = byDay.filter(
    ({ source, bearingDeg }) => bearingDeg !== null || sources.get(source)!.length > 1,
  );
  const unknown = new Set(telling.flatMap(({ source, bearingDeg }) => (bearingDeg === null ? [source] : [])));
  if (telling.length < Math.max(fewestDances, unknown.size + 3)) return null;
  const settings = { site, dances: telling, parameters: 1 + unknown.size };
  const asIs = fitOf(settings, 0, 1, false);
  const known = telling.every(({ bearingDeg }) => bearingDeg !== null);
  const tried = [
    ...hoursTried().flatMap((hours) =>
      inDaylight(site, telling, hours) ? [fitOf(settings, hours, 1, false)] : [],
    ),
    fitOf(settings, 0, -1, false),
    ...(known ? [fitOf(settings, 0, 1, true)] : []),
  ];
  const best = (kind: Amiss['kind']) =>
    tried
      .filter((fit) => fit.kind === kind)
      .sort((a, b) => a.aicc - b.aicc || Math.abs(a.amount) - Math.abs(b.amount))[0];
  const better = (['clock', 'comb', 'mirrored'] as const)
    .flatMap((kind) => best(kind) ?? [])
    .filter((fit) => fit.aicc < asIs.aicc - leastGain && fit.deviationDeg < 0.8 * asIs.deviationDeg)
    .sort((a, b) => a.aicc - b.aicc)
    .map(({ kind, amount, deviationDeg, aicc }) => ({
      kind,
      amount,
      deviationDeg,
      aiccDifference: aicc - asIs.aicc,
    }));
  return { dances: telling.length, deviationDeg: asIs.deviationDeg, better };
}

interface Fit extends Omit<Amiss, 'aiccDifference'> {
  readonly aicc: number;
}

interface Settings {
  readonly site: Site;
  readonly dances: readonly TimedAngle[];
  /** Of the fit as it is: the scatter, and the bearings that are not known. */
  readonly parameters: number;
}

const hoursTried = (): number[] =>
  Array.from({ length: (2 * mostHours) / stepHours + 1 }, (_, k) => k * stepHours - mostHours).filter(
    (hours) => hours !== 0,
  );

const later = (instant: number, hours: number) => instant + hours * 3_600_000;

function inDaylight(site: Site, dances: readonly TimedAngle[], hours: number): boolean {
  return dances.every(({ instant }) => sunPosition(site, later(instant, hours)).elevationDeg >= nightDeg);
}

function fitOf({ site, dances, parameters }: Settings, hours: number, sense: 1 | -1, turned: boolean): Fit {
  const pointed = dances.map(({ instant, combAngleDeg }) =>
    within360(sunPosition(site, later(instant, hours)).azimuthDeg + sense * combAngleDeg),
  );
  const bearings = bearingsOf(dances, pointed);
  const deviations = pointed.map((bearing, k) => turnDeg(bearings[k]!, bearing));
  const turn = turned ? turnDeg(0, circularSummary(deviations.map(within360)).meanDeg ?? 0) : 0;
  const squares = deviations.reduce((sum, deviation) => sum + turnDeg(turn, deviation) ** 2, 0);
  const n = dances.length;
  const k = parameters + (turned || hours !== 0 ? 1 : 0);
  const variance = Math.max(squares / n, finestDeg ** 2);
  return {
    kind: turned ? 'comb' : sense === -1 ? 'mirrored' : 'clock',
    // Angles read too far clockwise are mended by taking away.
    amount: turned ? -turn + 0 : hours,
    deviationDeg: Math.sqrt(squares / n),
    aicc: n * Math.log(variance) + 2 * k + (2 * k * (k + 1)) / Math.max(n - k - 1, 0.5),
  };
}

/** The bearing of each dance's source: as known, or the mean of where its dances point. */
function bearingsOf(dances: readonly TimedAngle[], pointed: readonly number[]): number[] {
  const bySource = grouped([...pointed.keys()], (k) => dances[k]!.source);
  const means = new Map(
    [...bySource].map(([source, own]) => [source, circularSummary(own.map((k) => pointed[k]!)).meanDeg ?? 0]),
  );
  return dances.map(({ bearingDeg, source }) => bearingDeg ?? means.get(source)!);
}

function grouped<T>(items: readonly T[], keyOf: (item: T) => string): Map<string, T[]> {
  const groups = new Map<string, T[]>();
  for (const item of items) {
    const group = groups.get(keyOf(item));
    if (group === undefined) groups.set(keyOf(item), [item]);
    else group.push(item);
  }
  return groups;
}

/**
 * How many hours must be added to a clock for every dance to be by day, the fewest that do (whole hours, −12 to 12);
 * 0 where all are; null where nothing helps.
 */
export function hoursIntoDaylight(site: Site, instants: readonly number[]): number | null {
  const lit = (hours: number) =>
    instants.every((instant) => sunPosition(site, later(instant, hours)).elevationDeg >= nightDeg);
  const hours = Array.from(
    { length: 2 * mostHours + 1 },
    (_, k) => (k % 2 === 0 ? -1 : 1) * Math.ceil(k / 2),
  );
  return hours.map((hour) => hour + 0).find(lit) ?? null;
}

/** One place of a curve of the comb angle to expect. */
export interface ExpectedAngle {
  readonly instant: number;
  /** Clockwise from straight up in [0, 360), degrees. */
  readonly combAngleDeg: number;
}

/**
 * The comb angle to expect for a source through a stretch of time, every ten minutes, while the sun is up.
 *
 * @param bearingDeg of the source, clockwise from true north
 */
export function expectedAngles(site: Site, bearingDeg: number, from: number, to: number): ExpectedAngle[] {
  const stepMs = 600_000;
  return Array.from({ length: Math.floor((to - from) / stepMs) + 1 }, (_, k) => from + k * stepMs).flatMap(
    (instant) => {
      const { azimuthDeg, elevationDeg } = sunPosition(site, instant);
      return elevationDeg < 0 ? [] : [{ instant, combAngleDeg: combAngleTo(bearingDeg, azimuthDeg) }];
    },
  );
}
