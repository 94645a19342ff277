import type { Ribbon } from '../../src/server/api.ts';
import { axisStep, axisTimes, clockText, TIME_STEPS_S, timeText } from './time-text.ts';
import { colourOf, type Size, sharpContext } from './use-size.ts';

interface View extends Size {
  readonly fromS: number;
  readonly spanS: number;
}

const AXIS_PX = 18;
const SHARE_PX = 7;

/**
 * Seconds of waggle runs by minute as bars over the axis of clock time, calls as a line of dots above, the
 * reviewed share of each minute as a strip under the bars, and the window in hand.
 */
export function drawRibbon(canvas: HTMLCanvasElement, ribbon: Ribbon, view: View): void {
  const context = sharpContext(canvas, view);
  context.clearRect(0, 0, view.width, view.height);
  const baseY = view.height - AXIS_PX - SHARE_PX - 2;
  const perS = view.width / ribbon.durationS;
  drawBars(context, ribbon, perS, baseY);
  drawShare(context, ribbon, perS, baseY + 2);
  drawAxis(context, ribbon, perS, view);
  drawWindow(context, perS, view);
}

/** Several minutes fall on one pixel of a long day: the busiest of them is shown. */
function drawBars(context: CanvasRenderingContext2D, ribbon: Ribbon, perS: number, baseY: number): void {
  const { runS, calls, binS } = ribbon;
  const busiestS = Math.max(5, ...runS);
  const width = Math.max(1, binS * perS - 1);
  const mostCalls = Math.max(3, ...calls);
  const [runColour, callColour] = [colourOf('run'), colourOf('call')];
  for (let k = 0; k < runS.length; k++) {
    const x = k * binS * perS;
    const barWidth = Math.min(width, (ribbon.durationS - k * binS) * perS);
    const high = (runS[k]! / busiestS) * (baseY - 8);
    context.fillStyle = runColour;
    context.fillRect(x, baseY - high, barWidth, high);
    if (calls[k]! === 0) continue;
    context.fillStyle = callColour;
    const dot = 2 + 3 * (calls[k]! / mostCalls);
    context.fillRect(x + barWidth / 2 - dot / 2, 5 - dot / 2, dot, dot);
  }
}

function drawShare(context: CanvasRenderingContext2D, ribbon: Ribbon, perS: number, y: number): void {
  const { sounds, reviewed, binS } = ribbon;
  const [lineColour, doneColour] = [colourOf('line'), colourOf('done')];
  for (let k = 0; k < sounds.length; k++) {
    if (sounds[k]! === 0) continue;
    const x = k * binS * perS;
    const width = Math.max(1, Math.min(binS, ribbon.durationS - k * binS) * perS - 1);
    context.fillStyle = lineColour;
    context.fillRect(x, y, width, SHARE_PX);
    context.fillStyle = doneColour;
    const high = SHARE_PX * (reviewed[k]! / sounds[k]!);
    context.fillRect(x, y + SHARE_PX - high, width, high);
  }
}

function drawAxis(context: CanvasRenderingContext2D, ribbon: Ribbon, perS: number, view: View): void {
  const step = Math.max(1, axisStep(ribbon.durationS, view.width / 80, TIME_STEPS_S));
  const seconds = step < 60;
  context.fillStyle = colourOf('quiet');
  context.font = '12px system-ui, sans-serif';
  context.textBaseline = 'bottom';
  for (const timeS of axisTimes(ribbon.durationS, step, ribbon.startTime)) {
    const x = timeS * perS;
    context.fillRect(x, view.height - AXIS_PX, 1, 4);
    const words = clockText(ribbon.startTime, timeS, seconds) ?? timeText(timeS, 0);
    if (x + 6 + context.measureText(words).width < view.width)
      context.fillText(words, x + 4, view.height - 1);
  }
}

function drawWindow(context: CanvasRenderingContext2D, perS: number, view: View): void {
  const width = Math.max(3, view.spanS * perS);
  const x = view.fromS * perS;
  context.strokeStyle = colourOf('ink');
  context.lineWidth = 2;
  context.strokeRect(x + 1, 1, Math.max(2, width - 2), view.height - AXIS_PX - 2);
  context.fillStyle = colourOf('ink');
  context.beginPath();
  context.moveTo(x + width / 2 - 6, view.height - AXIS_PX + 8);
  context.lineTo(x + width / 2 + 6, view.height - AXIS_PX + 8);
  context.lineTo(x + width / 2, view.height - AXIS_PX);
  context.fill();
}
