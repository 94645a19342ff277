import { mkdtemp, readdir, readFile, rm } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { estimateDistance, estimatorOf } from '../../../src/calibration/estimate.ts';
import { calibrationFigures } from '../../../src/study/figures/calibration-figures.ts';
import { beeMarks, markOf } from '../../../src/study/figures/marks.ts';
import { posteriorFigure } from '../../../src/study/figures/posterior-figure.ts';
import { columnWidthPx, type Figure, traceKinds } from '../../../src/study/figures/style.ts';
import { figuresPage, plotlySource, writeFigures } from '../../../src/study/figures/write-figures.ts';
import { calibrated, simulatedDances } from '../../calibration/simulated.ts';

const calibration = calibrated(
  simulatedDances(
    {
      distancesM: [150, 400, 800, 1400],
      bees: 4,
      dancesPerFeeder: 1,
      runsPerDance: 5,
      beeSdS: 0.05,
      danceSdS: 0.04,
      runSdS: 0.15,
      curve: (d) => 0.2 + 0.0012 * d,
    },
    3,
  ),
  'line',
  { draws: 60 },
);
const figures = calibrationFigures(calibration, 'duration', 'run duration (s)');
type Trace = { name?: string; x: number[]; y: number[] };
const traces = (figure: Figure) => figure.data as unknown as Trace[];

describe('figures of a calibration', () => {
  test('are curve, residuals, quantiles and left-out feeders, 85 mm wide, 8 pt, with units', () => {
    expect(figures.map(({ name }) => name)).toEqual([
      'duration-curve',
      'duration-residuals',
      'duration-quantiles',
      'duration-left-out',
    ]);
    for (const { layout } of figures) {
      const { width, font, xaxis, yaxis } = layout as Record<string, never> & {
        width: number;
        font: { size: number };
        xaxis: { title: { text: string } };
        yaxis: { title: { text: string } };
      };
      expect(Math.abs(width - columnWidthPx)).toBeLessThan(1);
      expect((font.size * 72) / 96).toBeCloseTo(8, 9);
      expect(xaxis.title.text).toMatch(/\((m|SD)\)$/);
      expect(yaxis.title.text).toMatch(/\((s|m|SD)\)$/);
    }
  });

  test('have none of left-out feeders where none can be told', () => {
    const saturated = calibrated(calibration.dances, 'broken-line', { draws: 20 });
    expect(saturated.leaveOneOut).toHaveLength(4);
    const names = calibrationFigures(saturated, 'duration', 'run duration (s)').map(({ name }) => name);
    expect(names).toEqual(['duration-curve', 'duration-residuals', 'duration-quantiles']);
  });

  test('by bee have a key for up to twelve bees, and room for it', () => {
    const ofBees = (bees: number) => {
      const dances = Array.from({ length: bees }, (_, bee) =>
        calibration.dances
          .filter(({ beeId }) => beeId === 'bee-0')
          .map((dance) => ({ ...dance, danceId: `${bee} ${dance.danceId}`, beeId: `bee ${bee}` })),
      ).flat();
      return calibrationFigures({ ...calibration, dances }, 'duration', 'run duration (s)');
    };
    const keyed = (some: readonly Figure[]) =>
      some.filter(({ layout }) => layout.showlegend === true).map(({ name }) => name);
    expect(keyed(ofBees(12))).toEqual(['duration-curve', 'duration-residuals']);
    expect(keyed(ofBees(13))).toEqual([]);
    const heights = ofBees(12).map(({ layout }) => Number(layout.height));
    expect(heights[0]).toBe(heights[1]);
    expect(heights[0]! - heights[2]!).toBeGreaterThan(12 * 4);
  });

  test('the band holds the curve and about all the points; every bee has her own points', () => {
    const [low, high, curve, ...bees] = traces(figures[0]);
    low.y.forEach((value, i) => {
      expect(value).toBeLessThan(curve.y[i]);
      expect(high.y[i]).toBeGreaterThan(curve.y[i]);
    });
    expect(bees.map(({ name }) => name)).toEqual(['bee-0', 'bee-1', 'bee-2', 'bee-3']);
    expect(bees.flatMap(({ x }) => x)).toHaveLength(16);
  });

  test('bees have their marks by name, whatever the order of dances, and the unknown come last', () => {
    const { dances } = calibration;
    const turned = { ...calibration, dances: [{ ...dances[0]!, beeId: null }, ...[...dances].reverse()] };
    const marks = beeMarks(['bee-3', 'bee-1', null, 'bee-0', 'bee-2', 'bee-1']);
    expect(marks.map(({ name }) => name)).toEqual(['bee-0', 'bee-1', 'bee-2', 'bee-3', 'bee not known']);
    const [, , , ...drawn] = traces(calibrationFigures(turned, 'duration', 'run duration (s)')[0]!);
    const looks = drawn as unknown as { name: string; marker: object }[];
    expect(looks.map(({ name, marker }) => ({ name, marker }))).toEqual(
      marks.map(({ name, mark }) => ({ name, marker: { size: 5, ...mark } })),
    );
    const many = Array.from({ length: 30 }, (_, k) => JSON.stringify(markOf(k)));
    expect(new Set(many).size).toBe(30);
  });

  test('residuals have about unit spread, and quantiles rise', () => {
    const residuals = traces(figures[1]).flatMap(({ y }) => y);
    const square = residuals.reduce((sum, value) => sum + value ** 2, 0) / residuals.length;
    expect(square).toBeGreaterThan(0.3);
    expect(square).toBeLessThan(2);
    const [, points] = traces(figures[2]);
    expect(points.y).toEqual([...residuals].sort((a, b) => a - b));
    expect(points.x[0]).toBeCloseTo(-points.x[points.x.length - 1], 9);
  });
});

test('a posterior’s shaded part lies within its interval', () => {
  const dance = { beeId: null, meanS: 0.9, usedRuns: 5 };
  const estimate = estimateDistance(calibration, estimatorOf(calibration), dance, 0.95);
  const figure = posteriorFigure('day 1/dance 2', estimate)!;
  expect(figure.name).toBe('posterior-day_1_dance_2');
  const [shaded, whole] = traces(figure);
  expect(Math.min(...shaded.x)).toBeGreaterThanOrEqual(estimate.lowM!);
  expect(Math.max(...shaded.x)).toBeLessThanOrEqual(estimate.highM!);
  expect(whole.x.length).toBeGreaterThan(shaded.x.length);
  expect(posteriorFigure('none', { ...estimate, posterior: undefined })).toBeUndefined();
});

test('the build of plotly.js has every kind of trace that figures are made of', async () => {
  const registered = /moduleType: "trace",\s+name: "(\w+)"/g;
  const held = [...(await plotlySource()).matchAll(registered)].map(([, name]) => name);
  expect(held).toEqual(expect.arrayContaining([...traceKinds]));
});

test('a page cannot be broken out of by a name', () => {
  const [figure] = figures;
  const page = figuresPage('figures', [{ ...figure, name: '</script><b>' }], 'var plotly;');
  expect(page.match(/<\/script>/g)).toHaveLength(2);
});

describe('writing figures', () => {
  let folder: string;
  beforeAll(async () => {
    folder = await mkdtemp(join(tmpdir(), 'combtone-figures-test-'));
  });
  afterAll(() => rm(folder, { recursive: true }));

  test('one page that fetches nothing, and SVG where a browser can draw it', async () => {
    const { files, withoutSvg } = await writeFigures(folder, 'calibration', figures.slice(0, 1));
    const page = await readFile(join(folder, 'calibration.html'), 'utf8');
    expect(page).not.toMatch(/<(script|link|img)[^>]+(src|href)=/);
    expect(page).toContain('run duration (s)');
    if (withoutSvg === null) {
      expect(await readdir(folder)).toEqual(['calibration.html', 'duration-curve.svg']);
      const svg = await readFile(join(folder, 'duration-curve.svg'), 'utf8');
      expect(svg).toMatch(/^<svg [^>]*width="321"/);
      expect(svg).toContain('run duration (s)');
    } else {
      expect(files).toHaveLength(1);
      expect(withoutSvg).toMatch(/Chromium/);
    }
  }, 60_000);
});
