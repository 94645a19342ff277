import normal from '@stdlib/stats-base-dists-normal';
import { quantile } from 'd3-array';
import { timeBeyond } from '../../calibration/beyond.ts';
import type { Calibration } from '../../calibration/calibration.ts';
import { curveNamed } from '../../calibration/curves/registry.ts';
import { runSdOf } from '../../calibration/joint.ts';
import { figureText } from './figure-text.ts';
import { beeMarks, blue } from './marks.ts';
import { columnHeightPx, type Figure, type PlotlyPart, paperLayout, type Trace } from './style.ts';

const gridCount = 80;
/** Runs of the dance that the prediction band is for. */
const bandRuns = 5;

/**
 * The figures of one calibration: points by bee with curve and prediction band, residuals by distance, their
 * quantile plot, and the errors of left-out feeders (where any could be reckoned).
 *
 * @param name first part of the figures' names
 * @param measure what was timed, with its unit, as an axis says it
 */
export function calibrationFigures(calibration: Calibration, name: string, measure: string): Figure[] {
  const residuals = standardised(calibration);
  return [
    { name: `${name}-curve`, ...curveFigure(calibration, measure) },
    { name: `${name}-residuals`, ...residualFigure(calibration, residuals) },
    { name: `${name}-quantiles`, ...quantileFigure(residuals) },
    ...(calibration.leaveOneOut.some(({ errorM }) => errorM !== null)
      ? [{ name: `${name}-left-out`, ...leftOutFigure(calibration) }]
      : []),
  ];
}

type Parts = Omit<Figure, 'name'>;

function curveFigure(calibration: Calibration, measure: string): Parts {
  const { parameters, farthestFeederM } = calibration;
  const curve = curveNamed(calibration.curve)!;
  const grid = Array.from({ length: gridCount + 1 }, (_, k) => (1.1 * farthestFeederM * k) / gridCount);
  const band = grid.map((distanceM) => predictionBand(calibration, distanceM));
  const line = { mode: 'lines', hoverinfo: 'skip', showlegend: false } as const;
  const bees = pointsByBee(calibration, ({ meanS }) => meanS);
  return {
    data: [
      { ...line, x: grid, y: band.map(([low]) => low), line: { width: 0 }, type: 'scatter' },
      {
        ...line,
        x: grid,
        y: band.map(([, high]) => high),
        line: { width: 0 },
        fill: 'tonexty',
        fillcolor: 'rgba(0,0,0,0.12)',
        type: 'scatter',
      },
      {
        ...line,
        x: grid,
        y: grid.map((distanceM) => timeBeyond(curve, parameters, distanceM, farthestFeederM)),
        line: { color: '#000000', width: 1.5 },
        type: 'scatter',
      },
      ...bees,
    ],
    layout: paperLayout('distance (m)', measure, {
      shapes: feederMarks(calibration),
      ...beeKey(bees.length),
    }),
  };
}

/** More names than this would be more key than figure. */
const mostInKey = 12;
/** What a line of a key holds of usual names in a column’s width, and its height (px). */
const [beesInLine, lineHeightPx] = [2, 19];

/** The key to a figure by bee, above it, with room of its own. */
function beeKey(bees: number): PlotlyPart {
  if (bees > mostInKey) return {};
  return {
    showlegend: true,
    height: columnHeightPx + lineHeightPx * Math.ceil(bees / beesInLine),
    // A band filled between lines would turn the order round.
    legend: { orientation: 'h', x: 0, y: 1.02, yanchor: 'bottom', itemwidth: 30, traceorder: 'normal' },
  };
}

// Even steps through each draw's normal distribution: together they make the mixture's.
const steps = Array.from({ length: 20 }, (_, k) => normal.quantile((k + 0.5) / 20, 0, 1));

/** 95 % band of the mean of a further dance of five runs by a bee not met before. */
function predictionBand(calibration: Calibration, distanceM: number): [number, number] {
  const curve = curveNamed(calibration.curve)!;
  const values = calibration.draws.flatMap(({ parameters, variances }) => {
    const mean = timeBeyond(curve, parameters, distanceM, calibration.farthestFeederM);
    const runSd = runSdOf(calibration, variances, distanceM);
    const sd = Math.sqrt(variances.bee + variances.dance + runSd ** 2 / bandRuns);
    return steps.map((step) => mean + sd * step);
  });
  return [quantile(values, 0.025)!, quantile(values, 0.975)!];
}

function feederMarks({ dances }: Calibration): PlotlyPart[] {
  const feedersM = [...new Set(dances.map(({ distanceM }) => distanceM))];
  return feedersM.map((feederM) => ({
    type: 'line',
    xref: 'x',
    yref: 'paper',
    x0: feederM,
    x1: feederM,
    y0: 0,
    y1: 0.03,
    line: { color: '#000000', width: 1.5 },
  }));
}

function pointsByBee(
  { dances }: Calibration,
  value: (dance: Calibration['dances'][number], index: number) => number,
): Trace[] {
  return beeMarks(dances.map(({ beeId }) => beeId)).map(({ beeId, name, mark }) => {
    const own = dances.flatMap((dance, index) => (dance.beeId === beeId ? [{ dance, index }] : []));
    return {
      type: 'scatter',
      mode: 'markers',
      name: figureText(name),
      x: own.map(({ dance }) => dance.distanceM),
      y: own.map(({ dance, index }) => value(dance, index)),
      text: own.map(({ dance }) => figureText(`${name}, dance ${dance.danceId}`)),
      marker: { size: 5, ...mark },
    };
  });
}

/** Residuals of dance means over the SD that bees, dances and runs give them. */
function standardised(calibration: Calibration): number[] {
  const { scatter, parameters } = calibration;
  const curve = curveNamed(calibration.curve)!;
  const variances = {
    bee: (scatter.betweenBeesS?.value ?? 0) ** 2,
    dance: (scatter.betweenDancesS?.value ?? 0) ** 2,
    nearRunSd: scatter.runsNearS.value,
    farRunSd: scatter.runsFarS.value,
  };
  return calibration.dances.map(({ distanceM, meanS, usedRuns }) => {
    const runSd = runSdOf(calibration, variances, distanceM);
    const sd = Math.sqrt(variances.bee + variances.dance + runSd ** 2 / usedRuns);
    return (meanS - curve.value(distanceM, parameters)) / sd;
  });
}

function residualFigure(calibration: Calibration, residuals: readonly number[]): Parts {
  const bees = pointsByBee(calibration, (_, index) => residuals[index]);
  return {
    data: bees,
    layout: paperLayout('distance (m)', 'residual (SD)', { shapes: [level(0)], ...beeKey(bees.length) }),
  };
}

function level(y: number): PlotlyPart {
  return {
    type: 'line',
    xref: 'paper',
    yref: 'y',
    x0: 0,
    x1: 1,
    y0: y,
    y1: y,
    line: { color: '#000000', width: 1, dash: 'dot' },
  };
}

function quantileFigure(residuals: readonly number[]): Parts {
  const sorted = Float64Array.from(residuals).sort();
  // Plotting positions (i − 0.5)/n (Hazen 1914; from memory).
  const expected = Array.from(sorted, (_, i) => normal.quantile((i + 0.5) / sorted.length, 0, 1));
  const ends = [expected[0], expected[expected.length - 1]];
  return {
    data: [
      { type: 'scatter', mode: 'lines', x: ends, y: ends, line: { color: '#000000', width: 1, dash: 'dot' } },
      {
        type: 'scatter',
        mode: 'markers',
        x: expected,
        y: Array.from(sorted),
        marker: { size: 5, color: blue },
      },
    ],
    layout: paperLayout('normal quantile (SD)', 'residual (SD)'),
  };
}

function leftOutFigure({ leaveOneOut }: Calibration): Parts {
  const known = leaveOneOut.filter(({ errorM }) => errorM !== null);
  return {
    data: [
      {
        type: 'scatter',
        mode: 'markers',
        x: known.map(({ feederM }) => feederM),
        y: known.map(({ errorM }) => errorM),
        marker: { size: 6, color: blue },
      },
    ],
    layout: paperLayout('feeder left out (m)', 'error without it (m)', { shapes: [level(0)] }),
  };
}
