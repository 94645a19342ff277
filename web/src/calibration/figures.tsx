import { useEffect, useRef } from 'react';
import type { CalibrationPreview } from '../../../src/server/api.ts';
import { figureText } from '../../../src/study/figures/figure-text.ts';
import { beeMarks } from '../../../src/study/figures/marks.ts';
import { useLook } from '../store.ts';
import { useFigureField } from '../use-figure-field.ts';
import { colourOf } from '../use-size.ts';
import { Plotly } from './plotly.ts';

export interface FiguresProps {
  readonly preview: CalibrationPreview;
  /** A point was pressed: its dance is ticked out. */
  readonly onPick: (danceId: string) => void;
  readonly stale: boolean;
}

/** Points by bee, curve and bands, and under them the residuals on the same axis of distance. */
export function CalibrationFigures({ preview, onPick, stale }: FiguresProps) {
  const look = useLook();
  const field = useFigureField();
  const pick = useRef(onPick);
  pick.current = onPick;
  useEffect(() => {
    const element = field.current!;
    void Plotly.react(element, tracesOf(preview), layoutOf(), CONFIG).then((figure) => {
      figure.removeAllListeners('plotly_click');
      figure.on('plotly_click', ({ points }) => {
        const id = points[0]?.customdata;
        if (typeof id === 'string') pick.current(id);
      });
    });
  }, [preview, look]);
  const words = `Run duration on distance for ${preview.points.length} dances with the ${preview.curve} curve; residuals below.`;
  return (
    <div
      ref={field}
      className={stale ? 'figure-field stale' : 'figure-field'}
      role="img"
      aria-label={`${words} The table of dances holds the same figures.`}
    />
  );
}

const CONFIG = { displaylogo: false, responsive: false, displayModeBar: false };

const atLeastNought = (valueS: number | null) => (valueS === null ? null : Math.max(0, valueS));

function tracesOf({ points, line, level }: CalibrationPreview): object[] {
  const distances = line.map(({ distanceM }) => distanceM);
  const band = (
    low: 'predictionLowS' | 'confidenceLowS',
    high: 'predictionHighS' | 'confidenceHighS',
    name: string,
  ) => [
    {
      x: distances,
      // A normal band may reach below nought, which no duration does.
      y: line.map((at) => atLeastNought(at[low])),
      mode: 'lines',
      line: { width: 0 },
      hoverinfo: 'skip',
      showlegend: false,
    },
    {
      x: distances,
      y: line.map((at) => atLeastNought(at[high])),
      mode: 'lines',
      line: { width: 0 },
      fill: 'tonexty',
      fillcolor: low === 'predictionLowS' ? '#56b4e930' : '#56b4e960',
      name,
      hoverinfo: 'skip',
    },
  ];
  const percent = `${Math.round(100 * level)} %`;
  const curve = {
    x: distances,
    y: line.map(({ durationS }) => durationS),
    mode: 'lines',
    line: { color: colourOf('ink'), width: 2 },
    name: 'curve',
    hoverinfo: 'skip',
  };
  return [
    ...band('predictionLowS', 'predictionHighS', `${percent} of dances`),
    ...band('confidenceLowS', 'confidenceHighS', `${percent} of the mean`),
    curve,
    ...pointTraces(points),
  ];
}

/** Each bee has a colour and a shape, in both panels. */
function pointTraces(points: CalibrationPreview['points']): object[] {
  return beeMarks(points.map(({ beeId }) => beeId)).flatMap((bee) => {
    const own = points.filter(({ beeId }) => beeId === bee.beeId);
    const common = {
      x: own.map(({ distanceM }) => distanceM),
      customdata: own.map(({ danceId }) => danceId),
      text: own.map(({ feederId, usedRuns }) => figureText(`${bee.name}, ${feederId}, ${usedRuns} runs`)),
      mode: 'markers',
      legendgroup: bee.name,
      name: figureText(bee.name),
      marker: {
        size: 10,
        ...bee.mark,
        line: { width: 1, color: colourOf('paper') },
      },
      hovertemplate: '%{text}<br>%{x:.0f} m, %{y:.3f} s<extra>press to take it out</extra>',
    };
    return [
      { ...common, y: own.map(({ meanDurationS }) => meanDurationS) },
      { ...common, y: own.map(({ residualS }) => residualS), yaxis: 'y2', showlegend: false },
    ];
  });
}

function layoutOf(): object {
  const [ink, line, paper] = [colourOf('ink'), colourOf('line'), colourOf('paper')];
  const axis = { gridcolor: line, zerolinecolor: line, linecolor: line, automargin: true };
  return {
    autosize: true,
    margin: { l: 60, r: 12, t: 10, b: 40 },
    paper_bgcolor: paper,
    plot_bgcolor: paper,
    font: { family: 'system-ui, sans-serif', size: 13, color: ink },
    hovermode: 'closest',
    legend: { orientation: 'h', y: 1.02, yanchor: 'bottom' },
    xaxis: { ...axis, title: { text: 'distance, m' }, anchor: 'y2', rangemode: 'tozero' },
    yaxis: { ...axis, title: { text: 'run duration, s' }, domain: [0.34, 1], rangemode: 'tozero' },
    yaxis2: { ...axis, title: { text: 'residual, s' }, domain: [0, 0.26], zerolinecolor: ink },
  };
}
