import type { Figure } from '../figures/style.ts';
import { escapeHtml, scriptData } from './html.ts';

const style = `
:root { color-scheme: light; --ink: #1b1b1b; --line: #8a8a8a; --blue: #0072b2; }
* { box-sizing: border-box; }
body { font: 15px/1.5 Georgia, 'Times New Roman', serif; color: var(--ink); background: #fff; margin: 0 auto; max-width: 62rem; padding: 1.5rem; }
h1, h2, h3, .caption, th, nav, .box h2 { font-family: Arial, Helvetica, sans-serif; }
h1 { font-size: 1.7rem; margin: 0 0 .3rem; } h2 { font-size: 1.2rem; border-bottom: 2px solid var(--blue); margin: 2rem 0 .6rem; padding-bottom: .15rem; } h3 { font-size: 1rem; margin: 1.2rem 0 .4rem; }
p { margin: .5rem 0; max-width: 48rem; } nav a { color: var(--blue); margin-right: 1rem; }
.table { overflow-x: auto; margin: .8rem 0 1.2rem; }
table { border-collapse: collapse; font-size: .85rem; } .caption { font-size: .85rem; font-weight: bold; margin: 0 0 .3rem; }
th, td { padding: .15rem .5rem; border-bottom: 1px solid #cfcfcf; text-align: left; vertical-align: top; overflow-wrap: break-word; }
td:not(:last-child) { white-space: nowrap; } td:last-child:not(.n) { min-width: 11rem; } th.n { white-space: normal; } th { border-bottom: 1px solid var(--ink); vertical-align: bottom; } .n { text-align: right; font-variant-numeric: tabular-nums; white-space: nowrap; }
.figures { display: flex; flex-wrap: wrap; gap: 1rem 1.5rem; } figure { margin: 0; } figcaption { font-size: .8rem; }
.box { border: 2px solid var(--ink); padding: .3rem 1rem .6rem; margin: 1.2rem 0; } .box h2 { border: 0; margin: .4rem 0; }
.note { font-size: .85rem; }
@media print {
  @page { size: A4; margin: 15mm; }
  body { font-size: 9.5pt; max-width: none; padding: 0; } nav { display: none; }
  .table { overflow: visible; break-before: auto; } table { font-size: 7.5pt; width: auto; } thead { display: table-header-group; }
  tr, figure, .box, .short { break-inside: avoid; } h2, h3, .caption { break-after: avoid; }
  th, td { padding: .1rem .3rem; } td:not(:last-child) { white-space: normal; } td:last-child:not(.n) { min-width: 0; } td.n { white-space: nowrap; } .modebar-container { display: none; }
}`;

/** A figure with the id of its place in the page. */
export interface PlacedFigure {
  readonly id: string;
  readonly figure: Figure;
}

/**
 * The whole page: everything it needs is in it, plotly.js once; nothing is fetched.
 *
 * @param plotly source of plotly.js
 */
export function reportPage(
  title: string,
  body: string,
  figures: readonly PlacedFigure[],
  plotly: string,
): string {
  const parts = figures.map(({ id, figure: { name, data, layout } }) => ({ id, name, data, layout }));
  const drawing =
    figures.length === 0
      ? ''
      : `<script>${plotly.replaceAll('</script', '<\\/script').replaceAll('<!--', '<\\!--')}</script>
<script>
for (const { id, name, data, layout } of ${scriptData(parts)}) {
  Plotly.newPlot(id, data, layout, { responsive: false, displayModeBar: 'hover', displaylogo: false, toImageButtonOptions: { format: 'svg', filename: name } });
}
</script>
`;
  return `<!doctype html>
<html lang="en">
<head>
<meta charset="utf-8">
<meta name="viewport" content="width=device-width, initial-scale=1">
<meta http-equiv="Content-Security-Policy" content="default-src 'none'; style-src 'unsafe-inline'; script-src 'unsafe-inline'; img-src data: blob:">
<title>${escapeHtml(title)}</title>
<style>${style}
</style>
</head>
<body>
${body}
${drawing}</body>
</html>
`;
}

/** Collects figures for a page; each `place` gives the HTML that they will be drawn into. */
export function figurePlaces() {
  const placed: PlacedFigure[] = [];
  const place = (figures: readonly Figure[], captions: Readonly<Record<string, string>> = {}): string => {
    if (figures.length === 0) return '';
    const places = figures.map((figure) => {
      const id = `figure-${placed.length + 1}`;
      placed.push({ id, figure });
      const { width, height } = figure.layout as { width: number; height: number };
      const caption = captions[figure.name] ?? '';
      const number = `Figure ${placed.length}${caption === '' ? '.' : `. ${caption}`}`;
      return `<figure style="width:${width}px"><div id="${id}" style="height:${height}px"></div><figcaption>${escapeHtml(number)}</figcaption></figure>`;
    });
    return `<div class="figures">${places.join('\n')}</div>`;
  };
  return { placed, place };
}
