import { describe, expect, test } from 'vitest';
import { apartDeg, degrees, radians, within360 } from '../../src/bearing/angles.ts';
import { type SunPosition, sunPosition } from '../../src/bearing/sun.ts';
import { seededRandom } from '../../src/random.ts';

describe('NREL/TP-560-34302 (Reda & Andreas 2004), worked example, without refraction', () => {
  const site = { latitudeDeg: 39.742476, longitudeDeg: -105.1786, elevationM: 1830.14 };

  test('2003-10-17 12:30:30 at UTC−7: azimuth 194.340241°, elevation 39.872046°', () => {
    const sun = sunPosition(site, Date.parse('2003-10-17T12:30:30-07:00'));
    expect(Math.abs(sun.azimuthDeg - 194.340241)).toBeLessThan(0.01);
    expect(Math.abs(sun.elevationDeg - 39.872046)).toBeLessThan(0.01);
  });

  test('a day later, by an implementation of the same report: 194.311132°, 39.505196°', () => {
    const sun = sunPosition(site, Date.parse('2003-10-18T12:30:30-07:00'));
    expect(Math.abs(sun.azimuthDeg - 194.311132)).toBeLessThan(0.01);
    expect(Math.abs(sun.elevationDeg - 39.505196)).toBeLessThan(0.01);
  });
});

/**
 * The Astronomical Almanac's low-precision formulas for the sun (from memory; good to 0.01° of ecliptic
 * longitude from 1950 to 2050) and mean sidereal time: another way to the same place.
 */
function almanacSun(latitudeDeg: number, longitudeDeg: number, instant: number): SunPosition {
  const days = instant / 86_400_000 + 2440587.5 - 2451545;
  const anomaly = radians(357.528 + 0.9856003 * days);
  const longitude = radians(
    280.46 + 0.9856474 * days + 1.915 * Math.sin(anomaly) + 0.02 * Math.sin(2 * anomaly),
  );
  const tilt = radians(23.439 - 0.0000004 * days);
  const ascension = Math.atan2(Math.cos(tilt) * Math.sin(longitude), Math.cos(longitude));
  const declination = Math.asin(Math.sin(tilt) * Math.sin(longitude));
  const siderealDeg = (18.697374558 + 24.06570982441908 * days) * 15;
  const hourAngle = radians(siderealDeg + longitudeDeg) - ascension;
  const latitude = radians(latitudeDeg);
  const up =
    Math.sin(latitude) * Math.sin(declination) +
    Math.cos(latitude) * Math.cos(declination) * Math.cos(hourAngle);
  const east = -Math.cos(declination) * Math.sin(hourAngle);
  const north =
    Math.cos(latitude) * Math.sin(declination) -
    Math.sin(latitude) * Math.cos(declination) * Math.cos(hourAngle);
  return {
    azimuthDeg: within360(degrees(Math.atan2(east, north))),
    elevationDeg: degrees(Math.asin(Math.max(-1, Math.min(1, up)))),
  };
}

describe('against the low-precision formulas of the Astronomical Almanac', () => {
  /** Degrees on the sky between the two, azimuth shrunk as circles of height shrink towards the zenith. */
  function apartOnSky(latitudeDeg: number, longitudeDeg: number, instant: number): number {
    const sun = sunPosition({ latitudeDeg, longitudeDeg }, instant);
    const other = almanacSun(latitudeDeg, longitudeDeg, instant);
    const sideways = apartDeg(sun.azimuthDeg, other.azimuthDeg) * Math.cos(radians(sun.elevationDeg));
    return Math.hypot(sideways, sun.elevationDeg - other.elevationDeg);
  }

  test('300 simulated places in both hemispheres, years 1980 to 2040, night and day: within 0.03°', () => {
    const random = seededRandom(11);
    for (let k = 0; k < 300; k++) {
      const latitude = random.between(-89, 89);
      const longitude = random.between(-180, 180);
      const instant = Date.UTC(1980, 0, 1) + random.between(0, 60 * 365.25) * 86_400_000;
      expect(apartOnSky(latitude, longitude, instant)).toBeLessThan(0.03);
    }
  });

  test.each([90, -90, 89.9999, -89.9999])('at latitude %f°', (latitude) => {
    for (const month of [0, 3, 5, 8, 11]) {
      expect(apartOnSky(latitude, 20, Date.UTC(2025, month, 14, 7))).toBeLessThan(0.03);
    }
  });
});

describe('how the sun goes', () => {
  const azimuth = (latitudeDeg: number, instant: number) =>
    sunPosition({ latitudeDeg, longitudeDeg: 0 }, instant).azimuthDeg;

  test('through the south in the north, through the north in the south, the east before both', () => {
    const noon = Date.UTC(2025, 5, 21, 12, 2);
    expect(apartDeg(azimuth(50, noon), 180)).toBeLessThan(0.5);
    expect(apartDeg(azimuth(-30, noon), 0)).toBeLessThan(0.5);
    const morning = Date.UTC(2025, 5, 21, 8);
    expect(azimuth(50, morning)).toBeGreaterThan(90);
    expect(azimuth(-30, morning)).toBeLessThan(90);
  });

  test('without a leap across midnight: 1 minute turns it by less than a degree', () => {
    for (let minute = -3; minute < 3; minute++) {
      const instant = Date.UTC(2025, 5, 14, 0, minute);
      expect(apartDeg(azimuth(50, instant), azimuth(50, instant + 60_000))).toBeLessThan(1);
    }
  });

  test('at the pole the elevation is the declination, and the azimuth turns by 15° an hour', () => {
    const site = { latitudeDeg: 90, longitudeDeg: 0 };
    const before = sunPosition(site, Date.UTC(2025, 5, 21, 2, 42));
    const after = sunPosition(site, Date.UTC(2025, 5, 21, 3, 42));
    // At the June solstice the declination is the tilt of the ecliptic, 23.436°; parallax takes 0.002°.
    expect(before.elevationDeg).toBeCloseTo(23.436, 1);
    expect(apartDeg(before.azimuthDeg, after.azimuthDeg)).toBeCloseTo(15, 1);
  });

  test('near the zenith: where the sun stands overhead, and a little north and south of it', () => {
    const instant = Date.UTC(2025, 2, 20, 12, 7, 20);
    const overhead = sunPosition({ latitudeDeg: 0, longitudeDeg: 0 }, instant);
    expect(overhead.elevationDeg).toBeGreaterThan(89.8);
    expect(apartDeg(sunPosition({ latitudeDeg: 2, longitudeDeg: 0 }, instant).azimuthDeg, 180)).toBeLessThan(
      5,
    );
    expect(apartDeg(sunPosition({ latitudeDeg: -2, longitudeDeg: 0 }, instant).azimuthDeg, 0)).toBeLessThan(
      5,
    );
  });
});
