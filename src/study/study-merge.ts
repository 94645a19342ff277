import { bisectLeft } from 'd3-array';
import { intersectionOverUnion } from '../dance/agreement.ts';
import type { StoredDance, StoredSound } from './store/rows.ts';
import type { SoundKind } from './study-schemas.ts';

/** A sound that a new detection found. `dance` numbers the detection's own dances. */
export interface NewSound {
  readonly channel: number;
  readonly kind: SoundKind;
  readonly startS: number;
  readonly endS: number;
  readonly carrierHz: number | null;
  readonly dance: number | null;
}

/** What becomes of the sounds of a recording when it is detected anew. */
export interface Merge {
  /** For each new sound, the old row it is: reviewed rows stay as they are, others take what is new. */
  readonly oldOf: readonly (StoredSound | null)[];
  /** Rows nobody reviewed that were not found again. */
  readonly gone: readonly StoredSound[];
  /** For each dance of the new detection, the old dance that it goes on with. */
  readonly danceOf: ReadonlyMap<number, string>;
  readonly counts: MergeCounts;
}

export interface MergeCounts {
  /** Reviewed rows, which stay. */
  readonly kept: number;
  /** Unreviewed rows found again. */
  readonly same: number;
  readonly new: number;
  readonly gone: number;
}

/** A shared part from which two stretches are one sound; a reviewer's times may differ more from the found ones. */
const SAME = 0.5;
const SAME_AS_REVIEWED = 0.3;
const APART_HZ = 60;

/** Whether somebody judged or changed a sound; a new detection leaves such a one as it is. */
export function isReviewed(sound: Pick<StoredSound, 'status' | 'edited'>): boolean {
  return sound.status !== 'found' || sound.edited;
}

/** Matches a new detection to the rows of a recording, reviewed ones first, each to the one it shares most with. */
export function mergeDetection(
  old: readonly StoredSound[],
  dances: readonly StoredDance[],
  found: readonly NewSound[],
): Merge {
  const reviewed = old.filter(isReviewed);
  const others = old.filter((sound) => !isReviewed(sound));
  const oldOf: (StoredSound | null)[] = found.map(() => null);
  match(reviewed, found, oldOf, SAME_AS_REVIEWED, true);
  const kept = new Set(reviewed.map(({ id }) => id));
  match(others, found, oldOf, SAME, false);
  const matched = new Set(oldOf.flatMap((sound) => (sound === null ? [] : [sound.id])));
  const gone = others.filter(({ id }) => !matched.has(id));
  const same = others.length - gone.length;
  return {
    oldOf,
    gone,
    danceOf: continuedDances(found, oldOf, dances),
    counts: {
      kept: kept.size,
      same,
      new: oldOf.filter((sound) => sound === null).length,
      gone: gone.length,
    },
  };
}

/**
 * Pairs rows with new sounds, the best shared first. A reviewed row takes a new sound of another kind too (a
 * call that the reviewer made a train is found as a call again), and all new sounds that lie mostly in it.
 */
function match(
  rows: readonly StoredSound[],
  found: readonly NewSound[],
  oldOf: (StoredSound | null)[],
  least: number,
  reviewed: boolean,
): void {
  const order = found.map((_, index) => index).sort((a, b) => found[a]!.startS - found[b]!.startS);
  const longestS = found.reduce((most, sound) => Math.max(most, sound.endS - sound.startS), 0);
  const starts = order.map((index) => found[index]!.startS);
  const pairs: { row: StoredSound; index: number; shared: number }[] = [];
  for (const row of rows) {
    for (let at = bisectLeft(starts, row.startS - longestS); at < order.length; at++) {
      const index = order[at]!;
      const sound = found[index]!;
      if (sound.startS > row.endS) break;
      if (oldOf[index] !== null || sound.channel !== row.channel) continue;
      if (!reviewed && sound.kind !== row.kind) continue;
      // Two bees may sound at once.
      if (Math.abs((sound.carrierHz ?? 0) - (row.carrierHz ?? sound.carrierHz ?? 0)) > APART_HZ) continue;
      const inside = Math.min(sound.endS, row.endS) - Math.max(sound.startS, row.startS);
      const whole = intersectionOverUnion(asStretch(row), asStretch(sound));
      const shared = reviewed ? Math.max(whole, inside / (sound.endS - sound.startS) - 0.3) : whole;
      if (shared >= least) pairs.push({ row, index, shared });
    }
  }
  pairs.sort((a, b) => b.shared - a.shared || a.index - b.index);
  const used = new Set<string>();
  for (const { row, index } of pairs) {
    if (oldOf[index] !== null || (!reviewed && used.has(row.id))) continue;
    oldOf[index] = row;
    used.add(row.id);
  }
}

function asStretch({ startS, endS }: { readonly startS: number; readonly endS: number }) {
  return { recording: '', start_s: startS, end_s: endS };
}

/** Each new dance goes on with the old dance that most of its matched trains were in; each old dance but once. */
function continuedDances(
  found: readonly NewSound[],
  oldOf: readonly (StoredSound | null)[],
  dances: readonly StoredDance[],
): Map<number, string> {
  const known = new Set(dances.map(({ id }) => id));
  const votes = new Map<string, { dance: number; danceId: string; count: number }>();
  for (const [index, sound] of found.entries()) {
    const danceId = oldOf[index]?.danceId ?? null;
    if (sound.dance === null || danceId === null || !known.has(danceId)) continue;
    const key = `${sound.dance} ${danceId}`;
    const vote = votes.get(key) ?? { dance: sound.dance, danceId, count: 0 };
    vote.count++;
    votes.set(key, vote);
  }
  const danceOf = new Map<number, string>();
  const used = new Set<string>();
  for (const { dance, danceId } of [...votes.values()].sort(
    (a, b) => b.count - a.count || a.dance - b.dance,
  )) {
    if (danceOf.has(dance) || used.has(danceId)) continue;
    danceOf.set(dance, danceId);
    used.add(danceId);
  }
  return danceOf;
}
