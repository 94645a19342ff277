import { describe, expect, test } from 'vitest';
import { InputError } from '../../src/input-error.ts';
import { parseStartTime } from '../../src/recording/index.ts';
import { nameStartTime } from '../../src/recording/start-time.ts';

describe('start time from a file name', () => {
  test.each([
    ['20250614_093000.wav', '2025-06-14T09:30:00'],
    ['hive2_20250614_093000_ch1.wav', '2025-06-14T09:30:00'],
    ['20250614T093000Z.wav', '2025-06-14T09:30:00Z'],
    ['20250614T093000+0200.wav', '2025-06-14T09:30:00+02:00'],
    ['20250614T093000-0330.wav', '2025-06-14T09:30:00-03:30'],
    ['2025-06-14_09-30-00.wav', '2025-06-14T09:30:00'],
    ['2025-06-14T09_30_00.wav', '2025-06-14T09:30:00'],
    ['18-08-07_00_10_12.wav', '2018-08-07T00:10:12'],
    ['24-02-29_00_10_12.wav', '2024-02-29T00:10:12'],
    ['20251314_093000_20250614_093000.wav', '2025-06-14T09:30:00'],
  ])('%s is %s', (name, time) => {
    expect(nameStartTime(`/recordings/19990101_000000/${name}`)).toBe(time);
  });

  test.each([
    'hive.wav',
    '20250614.wav',
    '20250631_093000.wav',
    '20250614_243000.wav',
    '20250614_096000.wav',
    '120250614_093000.wav',
    '20250614_0930001.wav',
    '23-02-29_00_10_12.wav',
    '01_02_03_04_05_06.wav',
    '20250614T093000+9900.wav',
  ])('%s tells no time', (name) => {
    expect(nameStartTime(name)).toBeNull();
  });
});

describe('start time from an option', () => {
  test.each([
    ['2025-06-14T09:30:00+02:00', '2025-06-14T09:30:00+02:00'],
    ['2025-06-14T09:30:00+0200', '2025-06-14T09:30:00+02:00'],
    ['2025-06-14 09:30', '2025-06-14T09:30:00'],
    ['2025-06-14T07:30:00.25z', '2025-06-14T07:30:00.25Z'],
  ])('%s is taken as %s', (text, time) => {
    expect(parseStartTime(text)).toBe(time);
  });

  test.each(['', '2025-06-14', '2025-02-29T00:00:00', '14.06.2025 09:30', '2025-06-14T09:30:00+25:00'])(
    '%j is refused',
    (text) => {
      expect(() => parseStartTime(text)).toThrow(InputError);
    },
  );
});
