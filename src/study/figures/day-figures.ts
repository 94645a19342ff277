import { DateTime } from 'luxon';
import { expectedAngles } from '../../bearing/clock-check.ts';
import type { Site } from '../../bearing/sun.ts';
import type { ArrivalLatencyRow, DayDanceRow, DayHourRow } from '../day/day-tables.ts';
import { figureText } from './figure-text.ts';
import { latencyFigure } from './latency-figure.ts';
import { blue, markOf } from './marks.ts';
import { type Figure, type PlotlyPart, paperLayout, type Trace } from './style.ts';

/** What the comb angle to expect is drawn from. */
export interface DaySources {
  readonly site: Site;
  /** Time zone of the hours; null for UTC. */
  readonly timeZone: string | null;
  readonly feeders: readonly { readonly feederId: string; readonly bearingDeg: number | null }[];
  /** Milliseconds since 1970 of a moment on the day that the curves are of. */
  readonly instant: number;
}

const hourTicks = { tickmode: 'linear', dtick: 2, tick0: 0 } as const;

/**
 * The figures of a study over the day: comb angles observed against those expected for each feeder, dances an hour,
 * tempo, length of dances and begging calls by the hour, latency of recruits. Those of which nothing is known are left
 * out.
 *
 * @param sources null where nothing is to be expected: coordinates or clock not known, or comb not vertical
 */
export function dayFigures(
  dances: readonly DayDanceRow[],
  hours: readonly DayHourRow[],
  arrivals: readonly ArrivalLatencyRow[],
  sources: DaySources | null,
): Figure[] {
  const latencies = arrivals.flatMap(({ recruit, latency_s }) => (recruit ? (latency_s ?? []) : []));
  return [
    ...combAngleFigure(dances, sources),
    ...activityFigure(hours),
    ...pointsFigure('day-tempo', 'circuits per 15 s', dances, (dance) => dance.circuits_per_15s),
    ...pointsFigure('day-runs', 'runs of a dance', dances, (dance) => dance.run_count),
    ...pointsFigure('day-return', 'return phase (s)', dances, (dance) => dance.mean_return_s),
    ...pointsFigure('day-dance-length', 'length of dance (s)', dances, (dance) => dance.dance_duration_s),
    ...pointsFigure(
      'day-begging',
      'begging calls per min of dance',
      dances,
      (dance) => dance.begging_calls_per_min,
    ),
    ...(latencies.length === 0 ? [] : [latencyFigure(latencies)]),
  ];
}

function hourLayout(yTitle: string, more: PlotlyPart = {}): PlotlyPart {
  const layout = paperLayout('hour of the day', yTitle, more);
  return { ...layout, xaxis: { ...(layout.xaxis as object), ...hourTicks } };
}

/** Points by feeder, each with a colour and a symbol of its own. */
function byFeeder(
  dances: readonly DayDanceRow[],
  value: (dance: DayDanceRow) => number | null,
  order: readonly (string | null)[],
): Trace[] {
  return order.flatMap((feeder, k): Trace[] => {
    const own = dances.filter(
      (dance) => dance.feeder_id === feeder && dance.hour !== null && value(dance) !== null,
    );
    if (own.length === 0) return [];
    return [
      {
        type: 'scatter',
        mode: 'markers',
        name: figureText(feeder ?? 'no feeder'),
        x: own.map(({ hour }) => hour),
        y: own.map(value),
        text: own.map(({ dance_id, bee_id }) =>
          figureText(`${dance_id}${bee_id === null ? '' : `, ${bee_id}`}`),
        ),
        marker: { size: 5, ...markOf(k) },
      },
    ];
  });
}

const feedersOf = (dances: readonly DayDanceRow[]): (string | null)[] => {
  const named = [...new Set(dances.flatMap(({ feeder_id }) => feeder_id ?? []))].sort();
  return [...named, null];
};

const legend = { orientation: 'h', x: 0, y: 1.02, yanchor: 'bottom', itemwidth: 30 } as const;

function combAngleFigure(dances: readonly DayDanceRow[], sources: DaySources | null): Figure[] {
  const order = feedersOf(dances);
  const points = byFeeder(dances, (dance) => dance.comb_angle_deg, order);
  if (points.length === 0) return [];
  const curves = sources === null ? [] : order.flatMap((feeder, k) => expectedCurve(sources, feeder, k));
  const layout = hourLayout('comb angle (°, clockwise from up)', {
    showlegend: points.length <= 8,
    legend,
  });
  const yaxis = {
    ...(layout.yaxis as object),
    range: [-5, 365],
    tickmode: 'linear',
    tick0: 0,
    dtick: 90,
  };
  return [{ name: 'day-comb-angle', data: [...curves, ...points], layout: { ...layout, yaxis } }];
}

function expectedCurve(sources: DaySources, feeder: string | null, k: number): Trace[] {
  const bearing = sources.feeders.find(({ feederId }) => feederId === feeder)?.bearingDeg ?? null;
  if (feeder === null || bearing === null) return [];
  const day = DateTime.fromMillis(sources.instant, { zone: sources.timeZone ?? 'utc' }).startOf('day');
  const angles = expectedAngles(sources.site, bearing, day.toMillis(), day.plus({ days: 1 }).toMillis());
  const x: number[] = [];
  const y: (number | null)[] = [];
  for (const { instant, combAngleDeg } of angles) {
    const hour = (instant - day.toMillis()) / 3_600_000;
    const last = y.at(-1);
    // A curve that leaves at the bottom comes in again at the top; no line joins the two.
    if (last != null && Math.abs(combAngleDeg - last) > 180) {
      x.push(hour);
      y.push(null);
    }
    x.push(Number(hour.toFixed(4)));
    y.push(Number(combAngleDeg.toFixed(2)));
  }
  return [
    {
      type: 'scatter',
      mode: 'lines',
      name: figureText(`${feeder}, expected`),
      showlegend: false,
      x,
      y,
      line: { color: markOf(k).color, width: 1.2 },
    },
  ];
}

function activityFigure(hours: readonly DayHourRow[]): Figure[] {
  const told = hours.filter(({ dances_per_hour }) => dances_per_hour !== null);
  if (told.length === 0) return [];
  return [
    {
      name: 'day-activity',
      data: [
        {
          type: 'bar',
          x: told.map(({ hour }) => hour + 0.5),
          y: told.map(({ dances_per_hour }) => dances_per_hour),
          width: 0.9,
          marker: { color: blue },
          text: told.map(({ recorded_min }) => `${recorded_min.toFixed(0)} min`),
          textposition: 'outside',
          cliponaxis: false,
        },
      ],
      layout: hourLayout('dances per hour recorded'),
    },
  ];
}

function pointsFigure(
  name: string,
  yTitle: string,
  dances: readonly DayDanceRow[],
  value: (dance: DayDanceRow) => number | null,
): Figure[] {
  const data = byFeeder(dances, value, feedersOf(dances));
  if (data.length === 0) return [];
  const layout = hourLayout(yTitle, { showlegend: data.length > 1 && data.length <= 8, legend });
  return [{ name, data, layout: { ...layout, yaxis: { ...(layout.yaxis as object), rangemode: 'tozero' } } }];
}
