import { expect, test } from 'vitest';
import { zoneWarning } from '../../src/study/zone-warning.ts';

// A zone's mean time is that of a meridian 15 degrees of longitude an hour from Greenwich (definition).
test('coordinates that are swapped are told where the clock gives them away', () => {
  expect(zoneWarning(51.2, 9.4, 'Europe/Berlin')).toBeNull();
  expect(zoneWarning(9.4, 51.2, 'Europe/Berlin')).toMatch(
    /^longitude 51\.2 and time zone .* \(the sun and the clock there are 2\.4 h apart\): are latitude and longitude swapped\?$/,
  );
  expect(zoneWarning(10, -140.1, 'Europe/Berlin')).toMatch(
    /^longitude -140\.1 and time zone .*10\.3 h apart\): are latitude/,
  );
  expect(zoneWarning(-14, 0, 'America/Chicago')).toMatch(/6\.0 h apart\): is one of them wrong\?$/);
  expect(zoneWarning(80, 100, 'UTC')).toMatch(/is one of them wrong\?$/);
});

test('far from Greenwich, over the date line and in wide zones nothing is said of what is right', () => {
  expect(zoneWarning(-36, 174, 'Pacific/Auckland')).toBeNull();
  expect(zoneWarning(52, 177, 'America/Adak')).toBeNull();
  expect(zoneWarning(39, 76, 'Asia/Shanghai')).toBeNull();
  expect(zoneWarning(42, -8, 'Europe/Madrid')).toBeNull();
});
