/** A window of spectrogram as bytes: column after column, in each the lowest frequency first. */
export interface SpectrogramTile {
  readonly columns: number;
  readonly bins: number;
  /** Centre of the first column, s from the recording's start. */
  readonly startS: number;
  readonly hopS: number;
  /** Centre of the first bin, Hz. */
  readonly lowHz: number;
  readonly binWidthHz: number;
  /** Level of byte 0, and of one step, dB. */
  readonly floorDb: number;
  readonly stepDb: number;
  /** Median and 99.5 % quantile of the tile's levels, dB. */
  readonly medianDb: number;
  readonly highDb: number;
  readonly levels: Uint8Array;
}

const magic = [0x43, 0x54, 0x53, 0x47]; // CTSG
const version = 1;
const headerBytes = 64;

/** The bytes that go over HTTP. */
export function writeSpectrogramTile(tile: SpectrogramTile): Uint8Array {
  const bytes = new Uint8Array(headerBytes + tile.levels.length);
  const view = new DataView(bytes.buffer);
  bytes.set(magic, 0);
  view.setUint32(4, version, true);
  view.setUint32(8, tile.columns, true);
  view.setUint32(12, tile.bins, true);
  [tile.startS, tile.hopS, tile.lowHz, tile.binWidthHz].forEach((value, index) => {
    view.setFloat64(16 + 8 * index, value, true);
  });
  [tile.floorDb, tile.stepDb, tile.medianDb, tile.highDb].forEach((value, index) => {
    view.setFloat32(48 + 4 * index, value, true);
  });
  bytes.set(tile.levels, headerBytes);
  return bytes;
}

/**
 * Reads what `writeSpectrogramTile` wrote. The levels are a view on the buffer.
 *
 * @throws RangeError when the buffer is no tile, or one cut short
 */
export function readSpectrogramTile(buffer: ArrayBuffer): SpectrogramTile {
  const view = new DataView(buffer);
  const isTile = buffer.byteLength >= headerBytes && magic.every((byte, at) => view.getUint8(at) === byte);
  if (!isTile || view.getUint32(4, true) !== version) throw new RangeError('not a spectrogram tile');
  const columns = view.getUint32(8, true);
  const bins = view.getUint32(12, true);
  if (buffer.byteLength !== headerBytes + columns * bins)
    throw new RangeError('a spectrogram tile cut short');
  return {
    columns,
    bins,
    startS: view.getFloat64(16, true),
    hopS: view.getFloat64(24, true),
    lowHz: view.getFloat64(32, true),
    binWidthHz: view.getFloat64(40, true),
    floorDb: view.getFloat32(48, true),
    stepDb: view.getFloat32(52, true),
    medianDb: view.getFloat32(56, true),
    highDb: view.getFloat32(60, true),
    levels: new Uint8Array(buffer, headerBytes),
  };
}
