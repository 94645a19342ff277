/** Watches the float samples of a recording as they are read, and makes them finite. */
export interface SampleNotes {
  /**
   * Replaces NaN and infinite samples by 0, in place, and remembers the reach of the others.
   *
   * @param channel from 1
   * @param startFrame frame of the recording that `samples` begins with
   */
  readonly look: (channel: number, startFrame: number, samples: Float32Array) => void;
  /** One line per remarkable thing. */
  readonly lines: () => readonly string[];
}

interface ChannelNotes {
  reach: number;
  notFinite: number;
  /** Frames before this one have been counted, so that reading them again counts nothing twice. */
  countedTo: number;
}

/** Looks at float samples as they pass, channel by channel, sets NaN and infinite ones to 0, and tells of both. */
export function sampleNotes(): SampleNotes {
  const byChannel = new Map<number, ChannelNotes>();

  const look = (channel: number, startFrame: number, samples: Float32Array): void => {
    const notes = byChannel.get(channel) ?? { reach: 0, notFinite: 0, countedTo: 0 };
    byChannel.set(channel, notes);
    let { reach } = notes;
    for (let index = 0; index < samples.length; index++) {
      const size = Math.abs(samples[index]!);
      if (size <= reach) continue;
      if (size < Infinity) {
        reach = size;
      } else {
        // NaN fails both comparisons and lands here too.
        samples[index] = 0;
        if (startFrame + index >= notes.countedTo) notes.notFinite++;
      }
    }
    notes.reach = reach;
    notes.countedTo = Math.max(notes.countedTo, startFrame + samples.length);
  };

  const lines = (): readonly string[] => {
    const reach = Math.max(0, ...[...byChannel.values()].map((notes) => notes.reach));
    const found: string[] = [];
    if (reach > 1)
      found.push(`float samples reach ${Number(reach.toPrecision(6))}, beyond ±1: taken as they are`);
    for (const [channel, { notFinite }] of [...byChannel].sort(([a], [b]) => a - b)) {
      if (notFinite === 0) continue;
      found.push(`${notFinite} float samples of channel ${channel} are NaN or infinite: taken as 0`);
    }
    return found;
  };

  return { look, lines };
}
