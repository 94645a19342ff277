/** Table of a CRC of `bits` with this polynomial, highest bit first, no reflection. */
function crcTable(polynomial: number, bits: 8 | 16 | 32): Uint32Array {
  const table = new Uint32Array(256);
  const top = 2 ** (bits - 1);
  const mask = 2 ** bits - 1;
  for (let byte = 0; byte < 256; byte++) {
    let crc = byte * 2 ** (bits - 8);
    for (let bit = 0; bit < 8; bit++) {
      crc = crc >= top ? (((crc * 2) % 2 ** bits) ^ polynomial) >>> 0 : crc * 2;
    }
    table[byte] = crc & mask;
  }
  return table;
}

const table8 = crcTable(0x07, 8);
const table16 = crcTable(0x8005, 16);
const table32 = crcTable(0x04c1_1db7, 32);

/** CRC-8 of FLAC frame headers (RFC 9639, section 9.1.8). */
export function crc8(bytes: Uint8Array, from: number, to: number): number {
  let crc = 0;
  for (let at = from; at < to; at++) crc = table8[crc ^ bytes[at]!]!;
  return crc;
}

/** CRC-16 of FLAC frames (RFC 9639, section 9.3); 0 over a whole frame with its own checksum. */
export function crc16(bytes: Uint8Array, from: number, to: number): number {
  let crc = 0;
  for (let at = from; at < to; at++) crc = ((crc << 8) & 0xffff) ^ table16[(crc >>> 8) ^ bytes[at]!]!;
  return crc;
}

/** CRC-32 of Ogg pages (RFC 3533, section 6), whose own field, 4 bytes from byte 22 on, counts as zeros. */
export function oggCrc32(page: Uint8Array): number {
  let crc = 0;
  for (let at = 0; at < page.length; at++) {
    const byte = at >= 22 && at < 26 ? 0 : page[at]!;
    crc = (crc << 8) ^ table32[((crc >>> 24) ^ byte) & 0xff]!;
  }
  return crc >>> 0;
}
