import type { ByteSource } from '../byte-source.ts';
import { byteWindow } from './byte-window.ts';
import { oggCrc32 } from './checksums.ts';

/** One page; its packets' bytes are valid until the next page is asked for. */
export interface OggPage {
  /** Where it begins in the file. */
  readonly at: number;
  readonly serial: number;
  readonly sequence: number;
  /** Position on the clock at the end of the last packet that ends here, in samples; null when none does. */
  readonly granule: number | null;
  /** Whether its first packet goes on from the page before. */
  readonly isContinued: boolean;
  readonly isLast: boolean;
  /** Packets and parts of packets. */
  readonly parts: readonly Uint8Array[];
  /** Whether the last part goes on in the next page. */
  readonly isOpen: boolean;
}

const headBytes = 27;
const mostPageBytes = headBytes + 255 + 255 * 255;

/**
 * Pages of a file from byte `from` on, up to `to`, checksums right; whatever else there is, is passed over.
 *
 * Source: RFC 3533, The Ogg Encapsulation Format Version 0.
 */
export async function* oggPages(source: ByteSource, from: number, to: number): AsyncGenerator<OggPage> {
  const window = byteWindow(source, from, to);
  let isMore = await window.more(0);
  let at = 0;
  for (;;) {
    const bytes = window.bytes();
    if (isMore && at + mostPageBytes > bytes.length) {
      isMore = await window.more(at);
      at = 0;
      continue;
    }
    at = Buffer.from(bytes.buffer, bytes.byteOffset, bytes.length).indexOf('OggS', at, 'latin1');
    if (at < 0) {
      if (!isMore) return;
      at = Math.max(0, bytes.length - 3);
      continue;
    }
    if (isMore && at + mostPageBytes > bytes.length) continue;
    const page = pageAt(bytes, at, window.at());
    if (page !== null) yield page.page;
    at += page?.byteLength ?? 4;
    if (at >= bytes.length && !isMore) return;
  }
}

function pageAt(
  bytes: Uint8Array,
  at: number,
  windowAt: number,
): { page: OggPage; byteLength: number } | null {
  if (at + headBytes > bytes.length || bytes[at + 4] !== 0) return null;
  const segmentCount = bytes[at + 26]!;
  const lacing = bytes.subarray(at + headBytes, at + headBytes + segmentCount);
  const bodyAt = at + headBytes + segmentCount;
  const bodyBytes = lacing.reduce((sum, length) => sum + length, 0);
  const byteLength = bodyAt + bodyBytes - at;
  if (at + byteLength > bytes.length) return null;
  const view = new DataView(bytes.buffer, bytes.byteOffset + at, byteLength);
  if (oggCrc32(bytes.subarray(at, at + byteLength)) !== view.getUint32(22, true)) return null;
  const granule = Number(view.getBigInt64(6, true));
  const flags = bytes[at + 5]!;
  const page: OggPage = {
    at: windowAt + at,
    serial: view.getUint32(14, true),
    sequence: view.getUint32(18, true),
    granule: granule < 0 ? null : granule,
    isContinued: (flags & 1) !== 0,
    isLast: (flags & 4) !== 0,
    parts: partsOf(bytes, bodyAt, lacing),
    isOpen: lacing.at(-1) === 255,
  };
  return { page, byteLength };
}

/** A packet ends with the first segment shorter than 255 bytes. */
function partsOf(bytes: Uint8Array, bodyAt: number, lacing: Uint8Array): Uint8Array[] {
  const parts: Uint8Array[] = [];
  let from = bodyAt;
  let to = bodyAt;
  for (const [index, length] of lacing.entries()) {
    to += length;
    if (length === 255 && index < lacing.length - 1) continue;
    parts.push(bytes.subarray(from, to));
    from = to;
  }
  return parts;
}

/** Puts packets together from the pages of one stream, in order. */
export function packetGatherer(): (page: OggPage) => { packets: Uint8Array[]; isHole: boolean } {
  let open: Uint8Array | null = null;
  let next: number | null = null;
  return (page) => {
    const isHole = next !== null && page.sequence !== next;
    if (isHole) open = null;
    const packets: Uint8Array[] = [];
    for (const [index, part] of page.parts.entries()) {
      const goesOn = index === page.parts.length - 1 && page.isOpen;
      const isRest = index === 0 && page.isContinued;
      // The rest of a packet whose beginning is lost is of no use.
      const whole = isRest ? (open === null ? null : joined(open, part)) : part;
      open = null;
      if (whole === null) continue;
      if (!goesOn) packets.push(whole);
      else if (whole.length <= mostPacketBytes) open = whole.slice();
    }
    next = (page.sequence + 1) % 2 ** 32;
    return { packets, isHole };
  };
}

const mostPacketBytes = 1 << 20;

function joined(first: Uint8Array, second: Uint8Array): Uint8Array {
  const whole = new Uint8Array(first.length + second.length);
  whole.set(first);
  whole.set(second, first.length);
  return whole;
}
