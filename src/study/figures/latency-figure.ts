import { deviationOf } from '../../signal/quantile.ts';
import { blue } from './marks.ts';
import { type Figure, paperLayout } from './style.ts';

/**
 * How many recruits came within each stretch of time since the last dance began. The bars are counted here: the
 * build of plotly.js that has histograms is three times the size.
 *
 * @param latenciesS one or more, s
 */
export function latencyFigure(latenciesS: readonly number[]): Figure {
  const widthMin = barWidthMin(latenciesS);
  const placeOf = (latencyS: number) => Math.floor(latencyS / (60 * widthMin));
  const first = placeOf(Math.min(...latenciesS));
  const counts = new Array<number>(placeOf(Math.max(...latenciesS)) - first + 1).fill(0);
  for (const latencyS of latenciesS) counts[placeOf(latencyS) - first]! += 1;
  const edgeMin = (bar: number) => Number(((first + bar) * widthMin).toFixed(9));
  const bars = counts.flatMap((count, bar) => (count === 0 ? [] : [{ count, bar }]));
  return {
    name: 'day-latency',
    data: [
      {
        type: 'bar',
        x: bars.map(({ bar }) => edgeMin(bar + 0.5)),
        y: bars.map(({ count }) => count),
        width: widthMin,
        hovertext: bars.map(({ count, bar }) => `${edgeMin(bar)} to ${edgeMin(bar + 1)} min: ${count}`),
        hoverinfo: 'text',
        marker: { color: blue, line: { color: '#ffffff', width: 1 } },
      },
    ],
    // No gap: edges are drawn at whole pixels.
    layout: paperLayout('time since the last dance began (min)', 'recruits', { bargap: 0 }),
  };
}

/**
 * Width of the bars, min: 2 SD over n to the power of 0.4, so that the highest bar holds many more than there are
 * bars, and from there up to 1, 2 or 5 times a power of ten. A minute where nothing scatters.
 */
function barWidthMin(latenciesS: readonly number[]): number {
  const wantedMin = (2 * deviationOf(latenciesS)) / 60 / latenciesS.length ** 0.4;
  if (!(wantedMin > 0)) return 1;
  const power = 10 ** Math.floor(Math.log10(wantedMin));
  return [1, 2, 5, 10].map((step) => step * power).find((width) => width >= wantedMin * (1 - 1e-9))!;
}
