/** A Plotly trace or layout: plain data that plotly.js reads. */
export type PlotlyPart = Readonly<Record<string, unknown>>;

/** Kinds of trace that the build of plotly.js has which draws the figures; it would draw others as points, unasked. */
export const traceKinds = ['scatter', 'bar'] as const;

export type Trace = PlotlyPart & { readonly type: (typeof traceKinds)[number] };

/** A figure to be drawn by plotly.js. */
export interface Figure {
  /** Part of a file's name. */
  readonly name: string;
  readonly data: readonly Trace[];
  readonly layout: PlotlyPart;
}

/** Size in px of a figure 85 mm wide, one column of most journals, at 96 px to the inch; 8 pt are 10.67 px. */
export const columnWidthPx = (85 / 25.4) * 96;
/** Height of such a figure, px. */
export const columnHeightPx = Math.round(columnWidthPx * 0.8);
const textPx = (8 / 72) * 96;

const axis = (title: string) => ({
  title: { text: title, standoff: 6 },
  showline: true,
  linecolor: '#000000',
  linewidth: 1,
  ticks: 'outside',
  ticklen: 4,
  showgrid: false,
  zeroline: false,
  automargin: true,
});

/** Layout of a figure for a paper: white ground, 8 pt, units on both axes. */
export function paperLayout(xTitle: string, yTitle: string, more: PlotlyPart = {}): PlotlyPart {
  return {
    width: Math.round(columnWidthPx),
    height: columnHeightPx,
    margin: { l: 48, r: 10, t: 10, b: 42 },
    font: { family: 'Arial, Helvetica, sans-serif', size: textPx, color: '#000000' },
    paper_bgcolor: '#ffffff',
    plot_bgcolor: '#ffffff',
    xaxis: axis(xTitle),
    yaxis: axis(yTitle),
    showlegend: false,
    ...more,
  };
}
