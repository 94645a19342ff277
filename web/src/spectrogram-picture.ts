import { levelColours } from './palette.ts';
import type { SpectrogramTile } from './service.ts';
import { axisStep } from './time-text.ts';
import { colourOf, type Size, sharpContext } from './use-size.ts';

export interface PictureView extends Size {
  readonly fromS: number;
  readonly toS: number;
  readonly highHz: number;
  readonly levelDb: number;
  readonly contrastDb: number;
  /** Edges of the band, Hz; empty for no lines. */
  readonly bandHz: readonly number[];
}

const LEVELS = 256;
/** Share of the columns that the background of a frequency lies above: low, since runs may fill half a window. */
const BACKGROUND_SHARE = 0.25;

/** Level of the hum at each frequency. Levels are shown from it on, or the hum would outshine all else. */
function backgroundLevels({ columns, bins, levels }: SpectrogramTile): Uint8Array {
  const backgrounds = new Uint8Array(bins);
  const counts = new Uint32Array(LEVELS);
  for (let bin = 0; bin < bins; bin++) {
    counts.fill(0);
    for (let column = 0; column < columns; column++) counts[levels[column * bins + bin]!]!++;
    let level = 0;
    for (let below = counts[0]!; below < BACKGROUND_SHARE * columns; below += counts[level]!) level++;
    backgrounds[bin] = level;
  }
  return backgrounds;
}

/** The tile as a picture of one cell for one pixel, lowest frequency at the foot. */
function tilePicture(tile: SpectrogramTile, levelDb: number, contrastDb: number): HTMLCanvasElement {
  const { columns, bins, levels, stepDb } = tile;
  const above = levelDb / stepDb;
  const colours = levelColours(LEVELS + above, LEVELS + above + contrastDb / stepDb);
  const backgrounds = backgroundLevels(tile);
  const cells = new Uint32Array(columns * bins);
  for (let column = 0; column < columns; column++) {
    for (let bin = 0; bin < bins; bin++) {
      cells[(bins - 1 - bin) * columns + column] =
        colours[LEVELS + levels[column * bins + bin]! - backgrounds[bin]!]!;
    }
  }
  const canvas = document.createElement('canvas');
  canvas.width = columns;
  canvas.height = bins;
  const image = new ImageData(new Uint8ClampedArray(cells.buffer), columns, bins);
  canvas.getContext('2d')!.putImageData(image, 0, 0);
  return canvas;
}

let last: {
  readonly tile: SpectrogramTile;
  readonly look: string;
  readonly picture: HTMLCanvasElement;
} | null = null;

/** Draws the window; a tile of another place is drawn where it belongs, the rest is left dark. */
export function drawSpectrogram(canvas: HTMLCanvasElement, tile: SpectrogramTile | null, view: PictureView) {
  const context = sharpContext(canvas, view);
  context.fillStyle = '#00204d';
  context.fillRect(0, 0, view.width, view.height);
  const perS = view.width / (view.toS - view.fromS);
  const perHz = view.height / view.highHz;
  if (tile !== null) {
    const look = `${view.levelDb} ${view.contrastDb}`;
    if (last?.tile !== tile || last.look !== look) {
      last = { tile, look, picture: tilePicture(tile, view.levelDb, view.contrastDb) };
    }
    const x = (tile.startS - tile.hopS / 2 - view.fromS) * perS;
    const foot = view.height - (tile.lowHz - tile.binWidthHz / 2) * perHz;
    const high = tile.bins * tile.binWidthHz * perHz;
    context.imageSmoothingEnabled = true;
    context.drawImage(last.picture, x, foot - high, tile.columns * tile.hopS * perS, high);
  }
  drawBand(context, view, perHz);
}

function drawBand(context: CanvasRenderingContext2D, view: PictureView, perHz: number): void {
  context.setLineDash([7, 5]);
  context.lineWidth = 1;
  for (const edge of view.bandHz) {
    const y = Math.round(view.height - edge * perHz) + 0.5;
    context.strokeStyle = '#ffffffcc';
    context.beginPath();
    context.moveTo(0, y);
    context.lineTo(view.width, y);
    context.stroke();
  }
  context.setLineDash([]);
}

/** The frequencies at the left. */
export function drawFrequencyAxis(canvas: HTMLCanvasElement, size: Size, highHz: number): void {
  const context = sharpContext(canvas, size);
  context.clearRect(0, 0, size.width, size.height);
  context.fillStyle = colourOf('quiet');
  context.font = '12px system-ui, sans-serif';
  context.textAlign = 'right';
  const step = axisStep(highHz, size.height / 34, [50, 100, 200, 500, 1000, 2000]);
  for (let hz = 0; hz <= highHz; hz += step) {
    const y = size.height - (hz / highHz) * size.height;
    context.fillRect(size.width - 5, Math.min(size.height - 1, Math.max(0, y)), 5, 1);
    context.textBaseline = hz === 0 ? 'bottom' : hz === highHz ? 'top' : 'middle';
    context.fillText(hz === highHz ? `${hz} Hz` : String(hz), size.width - 8, y);
  }
}
