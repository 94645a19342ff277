// From the comb angles of one dance and a distance to a place on the map. All figures are made up.
//
//   node docs/examples/where-she-points.mjs
import { bearingOfDance, goalOf, sunPosition } from 'combtone';

const hive = { latitudeDeg: 48, longitudeDeg: 8, elevationM: 400 };
const danced = Date.parse('2031-06-14T09:30:00+02:00');
const runs = [22, 25, 19, 24, 21, 23].map((combAngleDeg, run) => ({
  combAngleDeg,
  instant: danced + run * 4000,
}));

const sun = sunPosition(hive, danced);
console.log(`sun: ${sun.azimuthDeg.toFixed(1)}° from north, ${sun.elevationDeg.toFixed(1)}° high`);

const { bearingDeg, lowDeg, highDeg, flags } = bearingOfDance(hive, runs);
if (bearingDeg === null || lowDeg === null || highDeg === null) throw new Error(flags.join('; '));
console.log(`bearing: ${bearingDeg.toFixed(1)}° (95 %: ${lowDeg.toFixed(1)}° to ${highDeg.toFixed(1)}°)`);

const { latitudeDeg, longitudeDeg } = goalOf(hive, bearingDeg, 850);
console.log(`850 m that way: ${latitudeDeg.toFixed(5)}, ${longitudeDeg.toFixed(5)}`);
