import { execFile } from 'node:child_process';
import { mkdir, mkdtemp, readFile, rm, writeFile } from 'node:fs/promises';
import { createRequire } from 'node:module';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { pathToFileURL } from 'node:url';
import { promisify } from 'node:util';
import { writeWhole } from '../csv.ts';
import { escapeHtml, scriptData } from '../report/html.ts';
import type { Figure } from './style.ts';

const run = promisify(execFile);

/** Names under which a browser that can draw without a screen may be installed. */
const browsers = ['chromium', 'chromium-browser', 'google-chrome', 'chrome'] as const;

/** Files that were written, and why there are none in SVG, if there are none. */
export interface WrittenFigures {
  readonly files: readonly string[];
  readonly withoutSvg: string | null;
}

/**
 * Writes figures as one HTML page that holds all it needs (plotly.js is in it), and each as SVG. plotly.js draws only
 * in a browser, so that SVG wants a Chromium on the machine; without one the page's own camera buttons save it.
 *
 * @param folder made where it is not there
 * @param title of the page, and the page's file name
 */
export async function writeFigures(
  folder: string,
  title: string,
  figures: readonly Figure[],
): Promise<WrittenFigures> {
  await mkdir(folder, { recursive: true });
  const source = await plotlySource();
  const page = join(folder, `${title}.html`);
  await writeWhole(page, figuresPage(title, figures, source));
  const files = [page];
  const drawn = await drawSvgs(figures, source);
  if (drawn === undefined) {
    return { files, withoutSvg: 'no Chromium found to draw SVG with; the page’s camera buttons save it' };
  }
  for (const [i, svg] of drawn.entries()) {
    const path = join(folder, `${figures[i].name}.svg`);
    await writeWhole(path, `${svg}\n`);
    files.push(path);
  }
  return { files, withoutSvg: null };
}

/** Source of plotly.js, some 3 MB: that build of it that has lines, points and bars, and no other figures. */
export async function plotlySource(): Promise<string> {
  const path = createRequire(import.meta.url).resolve('plotly.js-basic-dist/plotly-basic.js');
  return readFile(path, 'utf8');
}

// A script element ends at the first </script, wherever it stands; after <!-- it may not end at all.
const inScript = (text: string) => text.replaceAll('</script', '<\\/script').replaceAll('<!--', '<\\!--');

/** `day-comb-angle` as a heading: its words. */
function headingOf(name: string): string {
  const words = name.replaceAll('-', ' ');
  return `${words.charAt(0).toUpperCase()}${words.slice(1)}`;
}

/** A page that shows figures, with nothing to be fetched. */
export function figuresPage(title: string, figures: readonly Figure[], plotly: string): string {
  const parts = figures.map(({ name, data, layout }) => {
    const config = { responsive: false, toImageButtonOptions: { format: 'svg', filename: name } };
    return { name, heading: headingOf(name), data, layout, config };
  });
  return `<!doctype html>
<html lang="en">
<meta charset="utf-8">
<meta http-equiv="Content-Security-Policy" content="default-src 'none'; style-src 'unsafe-inline'; script-src 'unsafe-inline'; img-src data: blob:">
<title>${escapeHtml(title)}</title>
<style>body { font-family: system-ui, sans-serif; margin: 1rem; } h2 { font-size: 1rem; }</style>
<body>
<script>${inScript(plotly)}</script>
<script>
for (const { name, heading: words, data, layout, config } of ${scriptData(parts)}) {
  const heading = document.createElement('h2');
  heading.textContent = words;
  const place = document.createElement('div');
  document.body.append(heading, place);
  Plotly.newPlot(place, data, layout, config);
}
</script>
</body>
</html>
`;
}

/** All figures as SVG by one start of the browser, or undefined where there is none. */
async function drawSvgs(figures: readonly Figure[], plotly: string): Promise<string[] | undefined> {
  const folder = await mkdtemp(join(tmpdir(), 'combtone-figures-'));
  try {
    const page = join(folder, 'draw.html');
    await writeFile(page, drawingPage(figures, plotly));
    for (const browser of browsers) {
      const printed = await dumpPage(browser, page, join(folder, 'profile'));
      const encoded = printed && /<pre id="drawn">([^<]+)<\/pre>/.exec(printed)?.[1];
      if (encoded) return JSON.parse(Buffer.from(encoded, 'base64').toString('utf8')) as string[];
    }
    return undefined;
  } finally {
    await rm(folder, { recursive: true, force: true });
  }
}

async function dumpPage(browser: string, page: string, profile: string): Promise<string | undefined> {
  const flags = [
    '--headless',
    '--no-sandbox',
    '--disable-gpu',
    `--user-data-dir=${profile}`,
    '--virtual-time-budget=20000',
    '--dump-dom',
  ];
  try {
    const { stdout } = await run(browser, [...flags, pathToFileURL(page).href], {
      maxBuffer: 2 ** 28,
      timeout: 120_000,
    });
    return stdout;
  } catch {
    return undefined;
  }
}

/** A page that draws every figure and leaves them, as base64 of a list in JSON, in its own text. */
function drawingPage(figures: readonly Figure[], plotly: string): string {
  const parts = scriptData(figures.map(({ data, layout }) => ({ data, layout })));
  return `<!doctype html><meta charset="utf-8"><body>
<script>${inScript(plotly)}</script>
<script>
(async () => {
  const drawn = [];
  for (const { data, layout } of ${parts}) {
    const uri = await Plotly.toImage({ data, layout }, { format: 'svg', width: layout.width, height: layout.height });
    drawn.push(decodeURIComponent(uri.slice(uri.indexOf(',') + 1)));
  }
  const bytes = new TextEncoder().encode(JSON.stringify(drawn));
  let text = '';
  for (const byte of bytes) text += String.fromCharCode(byte);
  const place = document.createElement('pre');
  place.id = 'drawn';
  place.textContent = btoa(text);
  document.body.replaceChildren(place);
})();
</script></body>
`;
}
