/** A stretch of a recording with a name, in frames from the start of the file that carries it. */
export interface WaveMark {
  readonly startFrame: number;
  readonly frameCount: number;
  readonly label: string;
}

/**
 * The chunks that mark stretches in a WAVE file: `cue ` with a point at each start, and a `LIST` of type `adtl` with,
 * for each point, `labl` (its name) and `ltxt` (its length, purpose `rgn `). Names are UTF-8.
 *
 * Source: IBM & Microsoft 1991, Multimedia Programming Interface and Data Specifications 1.0, chapter 3 (from memory).
 *
 * @returns nothing where there are no marks
 */
export function markChunks(marks: readonly WaveMark[]): Uint8Array {
  if (marks.length === 0) return new Uint8Array();
  const points = marks.map(({ startFrame }, k) => {
    const point = Buffer.alloc(24);
    point.writeUInt32LE(k + 1, 0);
    point.writeUInt32LE(startFrame, 4);
    point.write('data', 8, 'latin1');
    point.writeUInt32LE(startFrame, 20);
    return point;
  });
  const count = Buffer.alloc(4);
  count.writeUInt32LE(marks.length);
  const notes = marks.flatMap(({ frameCount, label }, k) => {
    const name = Buffer.alloc(4);
    name.writeUInt32LE(k + 1);
    const length = Buffer.alloc(20);
    length.writeUInt32LE(k + 1, 0);
    length.writeUInt32LE(frameCount, 4);
    length.write('rgn ', 8, 'latin1');
    return [
      chunk('labl', Buffer.concat([name, Buffer.from(`${label.replaceAll('\0', '')}\0`, 'utf8')])),
      chunk('ltxt', length),
    ];
  });
  return Buffer.concat([
    chunk('cue ', Buffer.concat([count, ...points])),
    chunk('LIST', Buffer.concat([Buffer.from('adtl', 'latin1'), ...notes])),
  ]);
}

/** A chunk, padded to an even length. */
function chunk(id: string, body: Buffer): Buffer {
  const head = Buffer.alloc(8);
  head.write(id, 0, 'latin1');
  head.writeUInt32LE(body.byteLength, 4);
  return Buffer.concat([head, body, Buffer.alloc(body.byteLength % 2)]);
}
