/**
 * Levels of the spectrogram as colours: ten steps of cividis (Nuñez, Anderton & Renslow 2018, PLOS ONE 13:e0199239;
 * values from memory), read alike with and without colour vision, joined by straight lines.
 */
const CIVIDIS = [
  0x00204d, 0x00336f, 0x39486b, 0x575c6d, 0x707173, 0x8a8779, 0xa69d75, 0xc4b56c, 0xe4cf5b, 0xffea46,
];

/**
 * Colours of the levels 0 to 511, for an ImageData of little-endian 32 bit cells.
 *
 * @param low level shown darkest; everything under it is dark too
 * @param high level shown brightest
 */
export function levelColours(low: number, high: number): Uint32Array {
  const colours = new Uint32Array(512);
  for (let level = 0; level < 512; level++) {
    const share = Math.min(1, Math.max(0, (level - low) / Math.max(1, high - low)));
    const place = share * (CIVIDIS.length - 1);
    const below = Math.min(CIVIDIS.length - 2, Math.floor(place));
    const part = (shift: number) => {
      const from = (CIVIDIS[below]! >> shift) & 0xff;
      const to = (CIVIDIS[below + 1]! >> shift) & 0xff;
      return Math.round(from + (to - from) * (place - below));
    };
    colours[level] = ((0xff << 24) | (part(0) << 16) | (part(8) << 8) | part(16)) >>> 0;
  }
  return colours;
}
