import { expect, test, vi } from 'vitest';
import { seededRandom } from '../../src/random.ts';
import { killDetections } from '../bench/detect-kills.ts';
import { MAIN, temporaryFolder } from '../cli/run-combtone.ts';

/** The whole of it, 200 recordings and 100 kills: npm run bench:faults */
vi.setConfig({ testTimeout: 120_000 });

const at = temporaryFolder();

test('a detection killed again and again loses nothing it saved, does nothing twice, and ends as one that was not', async () => {
  const figures = await killDetections({
    main: MAIN,
    folder: at('kills'),
    files: 12,
    lengthS: 6,
    kills: 5,
    threads: 1,
    random: seededRandom(4),
  });
  expect(figures).toMatchObject({ lost: 0, savedTwice: 0, faults: [], unlike: [] });
  expect(figures.kills).toBeGreaterThanOrEqual(3);
  expect(figures.tables).toBeGreaterThan(10);
  // The one that was in hand.
  expect(figures.mostBegunAgain).toBeLessThanOrEqual(1);
});
