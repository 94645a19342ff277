import type { DistanceEstimate } from '../../calibration/estimate.ts';
import { blue } from './marks.ts';
import { type Figure, paperLayout } from './style.ts';

/** Posterior of one dance's distance, its interval shaded and its median marked; undefined where there is none. */
export function posteriorFigure(danceId: string, estimate: DistanceEstimate): Figure | undefined {
  const { posterior, distanceM, lowM, highM } = estimate;
  if (posterior === undefined || highM === null) return undefined;
  const distancesM = Array.from(posterior.distancesM);
  const density = Array.from(posterior.density, (value) => value * 1000);
  const inside = distancesM.flatMap((value, i) => (value >= (lowM ?? 0) && value <= highM ? [i] : []));
  const curve = { type: 'scatter', mode: 'lines' } as const;
  return {
    name: `posterior-${danceId.replaceAll(/[^\w.-]+/g, '_')}`,
    data: [
      {
        ...curve,
        x: inside.map((i) => distancesM[i]),
        y: inside.map((i) => density[i]),
        fill: 'tozeroy',
        fillcolor: 'rgba(0,114,178,0.25)',
        line: { width: 0 },
      },
      { ...curve, x: distancesM, y: density, line: { color: blue, width: 1.5 } },
      ...(distanceM === null
        ? []
        : [
            {
              ...curve,
              x: [distanceM, distanceM],
              y: [0, Math.max(...density)],
              line: { color: '#000000', width: 1, dash: 'dot' },
            },
          ]),
    ],
    layout: paperLayout('distance (m)', 'probability per km'),
  };
}
