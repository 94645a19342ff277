import { type ByteSource, latinText, readBytes } from './byte-source.ts';

/** One chunk of a chunked file. */
export interface Chunk {
  readonly id: string;
  /** Where the body begins in the file. */
  readonly bodyAt: number;
  /** Size of the body as its header says. */
  readonly statedBytes: number;
  /** Size of the body that is really in the file. */
  readonly presentBytes: number;
}

/**
 * How one family of chunked files lays out its chunks: RIFF below, RF64 and BW64 in rf64.ts, Wave64 in wave64.ts,
 * AIFF in open-aiff.ts.
 */
export interface ChunkLayout {
  readonly firstChunkAt: number;
  readonly headerBytes: number;
  /** Bodies are padded to a multiple of this. */
  readonly alignmentBytes: number;
  /** Id and body size from one chunk header; null when these bytes cannot be a chunk header. */
  readonly parse: (header: DataView) => { readonly id: string; readonly statedBytes: number } | null;
  /** Chunks that hold others behind so many bytes of their body, and are walked into. */
  readonly nested?: { readonly ids: readonly string[]; readonly innerAt: number };
}

/** The chunks of a file, in order. */
export interface ChunkWalk {
  readonly chunks: readonly Chunk[];
  /** Where the bytes begin that belong to no chunk, at the end of the file. */
  readonly strayAt: number;
  readonly strayBytes: number;
}

/** RIFF: chunks of 32-bit size, padded to even bytes. */
export const riffLayout: ChunkLayout = {
  firstChunkAt: 12,
  headerBytes: 8,
  alignmentBytes: 2,
  parse: (header) => {
    const id = latinText(header, 0, 4);
    return isFourLetters(id) ? { id, statedBytes: header.getUint32(4, true) } : null;
  },
  // Recorders that append put one whole file behind another.
  nested: { ids: ['RIFF'], innerAt: 4 },
};

/** Whether an id is made of four printable ASCII characters, as RIFF wants it. */
export function isFourLetters(id: string): boolean {
  return /^[\x20-\x7e]{4}$/.test(id);
}

// A broken file could be made of nothing but empty chunks.
const mostChunks = 100_000;

// Ids that are taken for chunks even when the file ends inside them; any other four letters with a size past
// the end of the file are more likely sound.
const wellKnownIds: ReadonlySet<string> = new Set(
  'fmt |fact|data|ds64|RIFF|LIST|INFO|bext|iXML|axml|chna|JUNK|junk|FLLR|PAD |cue |smpl|id3 |ID3 |PEAK|COMM|SSND'.split(
    '|',
  ),
);

/**
 * Lists the chunks of a file, in order, without reading their bodies. Ends at the end of the file or at the
 * first bytes that cannot be a chunk.
 */
export async function walkChunks(source: ByteSource, layout: ChunkLayout): Promise<ChunkWalk> {
  const chunks: Chunk[] = [];
  let at = layout.firstChunkAt;
  let isInside = true;
  for (let step = 0; step < mostChunks; step++) {
    const padding = isInside ? 0 : paddingBefore(chunks.at(-1), layout);
    const chunk =
      (await chunkAt(source, layout, at + padding)) ??
      // Some recorders leave out the pad byte.
      (padding > 0 ? await chunkAt(source, layout, at) : null);
    if (chunk === null) {
      at = Math.min(at + padding, source.byteLength);
      break;
    }
    const { nested } = layout;
    if (nested?.ids.includes(chunk.id)) {
      at = chunk.bodyAt + nested.innerAt;
      isInside = true;
      continue;
    }
    isInside = false;
    chunks.push(chunk);
    at = chunk.bodyAt + chunk.presentBytes;
  }
  at = Math.min(at, source.byteLength);
  return { chunks, strayAt: at, strayBytes: source.byteLength - at };
}

function paddingBefore(previous: Chunk | undefined, layout: ChunkLayout): number {
  if (previous === undefined) return 0;
  const over = previous.presentBytes % layout.alignmentBytes;
  return over === 0 ? 0 : layout.alignmentBytes - over;
}

async function chunkAt(source: ByteSource, layout: ChunkLayout, at: number): Promise<Chunk | null> {
  const header = await readBytes(source, at, layout.headerBytes);
  if (header.byteLength < layout.headerBytes) return null;
  const parsed = layout.parse(header);
  if (parsed === null) return null;
  const bodyAt = at + layout.headerBytes;
  const presentBytes = Math.min(parsed.statedBytes, source.byteLength - bodyAt);
  if (presentBytes < parsed.statedBytes && !wellKnownIds.has(parsed.id)) return null;
  return { ...parsed, bodyAt, presentBytes };
}
