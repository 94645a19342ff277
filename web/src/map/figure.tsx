import { useEffect, useRef } from 'react';
import type { StudyMapView } from '../../../src/server/api.ts';
import { figureText } from '../../../src/study/figures/figure-text.ts';
import { Plotly } from '../calibration/plotly.ts';
import { useLook } from '../store.ts';
import { useFigureField } from '../use-figure-field.ts';
import { colourOf } from '../use-size.ts';
import { areaText } from './area-text.ts';
import type { Backdrop } from './backdrop.ts';
import { DANCE_MARK_PX, FEEDER_MARK_PX, HIVE_MARK_PX, NAME_FONT, placeNames } from './place-names.ts';
import { extentOf, MAP_STEPS, type Span, stepped } from './span.ts';

interface FigureProps {
  readonly view: StudyMapView;
  readonly backdrop: Backdrop | null;
  readonly stale: boolean;
}

const CONFIG = { displaylogo: false, responsive: false, displayModeBar: false, scrollZoom: true };

/** Regions, dances, feeders and hive in metres, north up; moved by drag, wheel, arrow keys and buttons. */
export function MapFigure({ view, backdrop, stale }: FigureProps) {
  const look = useLook();
  const field = useFigureField();
  // One after the other: of two changes that overlap the figure library draws one.
  const drawing = useRef<Promise<unknown>>(Promise.resolve());
  const whole = extentOf(view);
  const wholeKey = JSON.stringify(whole);
  useEffect(() => {
    const element = field.current!;
    let gone = false;
    const traces = [...backdropTraces(backdrop), ...regionTraces(view), ...spotTraces(view)];
    const next = (draw: () => Promise<unknown>) => {
      // What has failed holds nothing up.
      drawing.current = drawing.current.catch(() => {}).then(() => (gone ? undefined : draw()));
    };
    next(async () => {
      const figure = await Plotly.react(element, traces, layoutOf(whole, wholeKey), CONFIG);
      const place = () => placeNames(figure, view);
      figure.removeAllListeners('plotly_relayout');
      // After a step, a drag, a turn of the wheel, and when the figure has another size.
      figure.on('plotly_relayout', () => next(place));
      if (!gone) await place();
    });
    return () => {
      gone = true;
    };
  }, [view, backdrop, look, wholeKey]);
  const go = (step: keyof typeof MAP_STEPS | 'whole') => {
    const element = field.current!;
    const { xaxis, yaxis } = (
      element as unknown as { layout: Record<'xaxis' | 'yaxis', { range: Span['x'] }> }
    ).layout;
    const next = step === 'whole' ? whole : stepped({ x: xaxis.range, y: yaxis.range }, MAP_STEPS[step]);
    void Plotly.relayout(element, { 'xaxis.range': [...next.x], 'yaxis.range': [...next.y] });
  };
  const onKeyDown = (event: React.KeyboardEvent) => {
    const step = KEY_STEPS[event.key];
    if (step === undefined || event.ctrlKey || event.altKey || event.metaKey) return;
    event.preventDefault();
    event.stopPropagation();
    go(step);
  };
  const words = view.regions.map(
    ({ level, areaHa }) => `${Math.round(100 * level)} % in ${areaText(areaHa)}`,
  );
  return (
    <div className="map-field">
      <div className="map-steps">
        <span className="quiet" role="status">
          {stale && 'mapping anew …'}
        </span>
        <button type="button" title="Closer (+)" onClick={() => go('+')}>
          Closer
        </button>
        <button type="button" title="Wider (−)" onClick={() => go('-')}>
          Wider
        </button>
        <button type="button" title="All of it (0)" onClick={() => go('whole')}>
          Whole
        </button>
      </div>
      <section
        className="map-keys"
        // biome-ignore lint/a11y/noNoninteractiveTabindex: what moves by arrow keys must be reachable by keyboard
        tabIndex={0}
        aria-label="Map: arrow keys move it, + and − scale it, 0 shows all"
        onKeyDown={onKeyDown}
      >
        <div
          ref={field}
          className={stale ? 'figure-field stale' : 'figure-field'}
          role="img"
          aria-label={`Map around the hive, north up: ${words.join(', ')}. The table of dances holds the same places.`}
        />
      </section>
    </div>
  );
}

const KEY_STEPS: Readonly<Record<string, keyof typeof MAP_STEPS | 'whole'>> = {
  ArrowLeft: 'west',
  ArrowRight: 'east',
  ArrowUp: 'north',
  ArrowDown: 'south',
  '+': '+',
  '=': '+',
  '-': '-',
  '0': 'whole',
};

/** Meaning is in the dash as well as in the shade. */
const REGION_LOOKS: readonly { readonly level: number; readonly dash: string; readonly shade: string }[] = [
  { level: 0.95, dash: 'dot', shade: '22' },
  { level: 0.8, dash: 'dash', shade: '38' },
  { level: 0.5, dash: 'solid', shade: '58' },
];

function backdropTraces(backdrop: Backdrop | null): object[] {
  if (backdrop === null) return [];
  const common = { hoverinfo: 'skip', legendgroup: 'backdrop', name: figureText(backdrop.name) };
  const at = (list: Backdrop['lines'], axis: 0 | 1) => list.map((point) => point?.[axis] ?? null);
  const lines = {
    ...common,
    x: at(backdrop.lines, 0),
    y: at(backdrop.lines, 1),
    mode: 'lines',
    line: { color: colourOf('edge'), width: 1 },
  };
  const points = {
    ...common,
    x: at(backdrop.points, 0),
    y: at(backdrop.points, 1),
    mode: 'markers',
    marker: { size: 5, color: colourOf('edge'), symbol: 'circle-open' },
    showlegend: backdrop.lines.length === 0,
  };
  return [...(backdrop.lines.length > 0 ? [lines] : []), ...(backdrop.points.length > 0 ? [points] : [])];
}

function regionTraces({ regions }: StudyMapView): object[] {
  const colour = colourOf('run');
  return REGION_LOOKS.flatMap(({ level, dash, shade }) => {
    const region = regions.find((one) => one.level === level);
    if (region === undefined) return [];
    // Rings parted by gaps: holes are left open by the even-odd rule.
    const points = region.polygons.flat().flatMap((ring, k) => [...(k === 0 ? [] : [null]), ...ring]);
    return [
      {
        x: points.map((point) => point?.[0] ?? null),
        y: points.map((point) => point?.[1] ?? null),
        mode: 'lines',
        fill: 'toself',
        fillcolor: `${colour}${shade}`,
        line: { color: colour, width: 1.5, dash },
        name: `${Math.round(100 * level)} %`,
        hoverinfo: 'skip',
      },
    ];
  });
}

/** Names are put beside the marks once it is known where these are; all can be had by a tap or the mouse. */
function spotTraces({ feeders, dances }: StudyMapView): object[] {
  const [ink, paper, call] = [colourOf('ink'), colourOf('paper'), colourOf('call')];
  const spots = (list: readonly { readonly eastM: number; readonly northM: number }[]) => ({
    x: list.map(({ eastM }) => eastM),
    y: list.map(({ northM }) => northM),
  });
  const known = {
    ...spots(dances),
    mode: 'markers',
    name: 'dances',
    marker: { size: 2 * DANCE_MARK_PX, symbol: 'x-thin', line: { width: 2, color: ink } },
    text: dances.map(({ danceId, beeId, distanceM, bearingDeg }) =>
      [
        figureText(danceId),
        figureText(beeId ?? 'bee not known'),
        `${Math.round(distanceM)} m at ${Math.round(bearingDeg)}°`,
      ].join('<br>'),
    ),
    hovertemplate: '%{text}<extra></extra>',
  };
  const fed = {
    ...spots(feeders),
    mode: 'markers+text',
    name: 'feeders',
    marker: { size: 2 * FEEDER_MARK_PX, symbol: 'square', color: call, line: { width: 1, color: paper } },
    customdata: feeders.map(({ feederId }) => figureText(feederId)),
    textfont: { ...NAME_FONT, color: ink },
    hovertemplate: '%{customdata}<extra></extra>',
  };
  const hive = {
    x: [0],
    y: [0],
    mode: 'markers+text',
    name: 'hive',
    marker: { size: 2 * HIVE_MARK_PX, symbol: 'triangle-up', color: ink, line: { width: 1, color: paper } },
    textfont: { ...NAME_FONT, color: ink },
    hovertemplate: 'hive<extra></extra>',
  };
  return [...(dances.length > 0 ? [known] : []), ...(feeders.length > 0 ? [fed] : []), hive];
}

function layoutOf(whole: Span, revision: string): object {
  const [ink, line, paper] = [colourOf('ink'), colourOf('line'), colourOf('paper')];
  const axis = { gridcolor: line, zerolinecolor: line, linecolor: line, automargin: true };
  return {
    autosize: true,
    // The hand's own view stays while the whole is the same.
    uirevision: revision,
    dragmode: 'pan',
    margin: { l: 60, r: 12, t: 10, b: 40 },
    paper_bgcolor: paper,
    plot_bgcolor: paper,
    font: { family: 'system-ui, sans-serif', size: 13, color: ink },
    hovermode: 'closest',
    legend: { orientation: 'h', y: 1.02, yanchor: 'bottom', itemclick: false, itemdoubleclick: false },
    xaxis: { ...axis, title: { text: 'east of the hive, m', font: { size: 13 } }, range: [...whole.x] },
    yaxis: {
      ...axis,
      title: { text: 'north of the hive, m', font: { size: 13 } },
      range: [...whole.y],
      scaleanchor: 'x',
      scaleratio: 1,
    },
    annotations: [
      {
        xref: 'paper',
        yref: 'paper',
        x: 0.985,
        y: 0.975,
        text: '▲<br><b>N</b>',
        showarrow: false,
        font: { size: 15, color: ink },
        bgcolor: paper,
        bordercolor: line,
        borderpad: 4,
      },
    ],
  };
}
