/** A sound heard on one channel. Times are seconds from the recording's start. */
interface Heard {
  readonly startS: number;
  readonly endS: number;
  readonly carrierHz: number;
  readonly snrDb: number;
}

/** A sound with the channel on which it was clearest and the others on which it was heard, from 1. */
export type OnChannels<T> = T & { readonly channel: number; readonly alsoChannels: readonly number[] };

const SAME_CARRIER_HZ = 15;
const SAME_SHARE = 0.5;

/**
 * Joins what several microphones heard of the same sound, so that no run counts twice: two sounds are one when
 * they share at least half of their union in time and their carriers differ by less than 15 Hz. The clearest
 * (highest SNR) stays, and names the other channels.
 *
 * @param byChannel for each channel searched, its number and what was found there
 * @returns in order of start
 */
export function joinChannels<T extends Heard>(
  byChannel: readonly { readonly channel: number; readonly sounds: readonly T[] }[],
): OnChannels<T>[] {
  const all = byChannel.flatMap(({ channel, sounds }) => sounds.map((sound) => ({ sound, channel })));
  const clearestFirst = all.sort(
    (a, b) => b.sound.snrDb - a.sound.snrDb || a.sound.startS - b.sound.startS || a.channel - b.channel,
  );
  const kept: { sound: T; channel: number; alsoChannels: number[] }[] = [];
  const inOrder: typeof kept = [];
  for (const one of clearestFirst) {
    const same = inOrder.find(
      (other) =>
        other.channel !== one.channel &&
        !other.alsoChannels.includes(one.channel) &&
        sameSound(other.sound, one.sound),
    );
    if (same !== undefined) {
      same.alsoChannels.push(one.channel);
      continue;
    }
    const fresh = { ...one, alsoChannels: [] };
    kept.push(fresh);
    if (byChannel.length > 1) inOrder.push(fresh);
  }
  return kept
    .map(({ sound, channel, alsoChannels }) => ({
      ...sound,
      channel,
      alsoChannels: alsoChannels.sort((a, b) => a - b),
    }))
    .sort((a, b) => a.startS - b.startS || a.carrierHz - b.carrierHz || a.channel - b.channel);
}

function sameSound(a: Heard, b: Heard): boolean {
  if (Math.abs(a.carrierHz - b.carrierHz) >= SAME_CARRIER_HZ) return false;
  const shared = Math.min(a.endS, b.endS) - Math.max(a.startS, b.startS);
  return shared >= SAME_SHARE * (Math.max(a.endS, b.endS) - Math.min(a.startS, b.startS));
}
