import { seededRandom } from '../../src/random.ts';
import { colonies, simulateColony } from '../bearing/simulated-map.ts';

/**
 * How often the true place of a simulated dance lies inside the regions that the map draws for it, on colonies
 * of several kinds. 93 to 97 in 100 are wanted inside the region of 95 %.
 *
 * Call: node .bench/tests/bench/map-coverage.js [dances of each kind, 2000] [seed, 1]
 */
const wanted = Number(process.argv[2] ?? 2000);
const seed = Number(process.argv[3] ?? 1);

let failed = false;
for (const [name, colony] of Object.entries(colonies)) {
  const random = seededRandom(seed);
  let dances = 0;
  const inside = [0, 0, 0];
  while (dances < wanted) {
    const held = simulateColony(random, colony);
    dances += held.dances;
    held.inside.forEach((count, level) => {
      inside[level] += count;
    });
  }
  const [half, most, nearlyAll] = inside.map((count) => (100 * count) / dances);
  const good = nearlyAll >= 93 && nearlyAll <= 97;
  failed ||= !good;
  console.log(
    `${name}: ${dances} dances; inside 50 %: ${half.toFixed(1)}, 80 %: ${most.toFixed(1)}, ` +
      `95 %: ${nearlyAll.toFixed(1)}${good ? '' : '  not within 93 to 97'}`,
  );
}
process.exitCode = failed ? 1 : 0;
