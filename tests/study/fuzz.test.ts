import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import type { z } from 'zod';
import { InputError } from '../../src/input-error.ts';
import type { Random } from '../../src/random.ts';
import { checkedCalibration } from '../../src/study/calibration-record.ts';
import { formatTable, tableRows } from '../../src/study/csv.ts';
import { newSettings, settingsOf } from '../../src/study/study-folder.ts';
import { callSchema, danceSchema, observationSchema, trainSchema } from '../../src/study/tables.ts';
import { fuzz, mutated } from '../recording/fuzz-mutations.ts';

/** Whether something ended in a result or in one line. */
function ending(action: () => unknown): 'read' | 'refused' {
  try {
    action();
    return 'read';
  } catch (error) {
    if (!(error instanceof InputError)) throw error;
    if (/[\n\r]/.test(error.message)) throw new Error(`a message of several lines: ${error.message}`);
    if (error.message.length > 5000) throw new Error(`a message of ${error.message.length} characters`);
    return 'refused';
  }
}

const hostileCells = [
  '1e308',
  '-1e308',
  '1e309',
  'NaN',
  'Infinity',
  '-0',
  '0x1f',
  '1_000',
  '9007199254740993',
  '=1+1',
  "'=1+1",
  '__proto__',
  'constructor',
  '"',
  '"""',
  '\0',
  '\ufeff',
  '\u202e',
  '{"a":1}',
  '1,5',
  ' ',
  'x'.repeat(5000),
];

const train: z.infer<typeof trainSchema> = {
  recording: 'hive.wav',
  channel: 1,
  train_id: 't1',
  dance_id: 'd1',
  start_s: 1.5,
  end_s: 2.5,
  duration_s: 1,
  pulse_count: 15,
  pulse_rate_hz: 15,
  carrier_hz: 260,
  snr_db: 6,
  confidence: 0.9,
  start_time: null,
  status: 'found',
  also_channels: '2;3',
};
/** One sign replaced by another that can be typed: JSON mutated byte by byte is hardly ever JSON. */
function retyped(text: string, random: Random): string {
  const at = random.below(text.length);
  return text.slice(0, at) + String.fromCharCode(32 + random.below(95)) + text.slice(at + 1);
}

const schemas = [trainSchema, callSchema, danceSchema, observationSchema] as const;
const textOf = (bytes: Uint8Array) =>
  Buffer.from(bytes.buffer, bytes.byteOffset, bytes.length).toString('utf8');

describe('tables', () => {
  const table = formatTable(trainSchema, [train, { ...train, train_id: 't2' }, { ...train, train_id: 't3' }]);

  test('mutated bytes', async () => {
    const seed = new Uint8Array(Buffer.from(table));
    const read = await fuzz(
      'CSV',
      8000,
      (random) => textOf(mutated(seed, random)),
      (text) => ending(() => tableRows('fuzzed.csv', text, trainSchema)),
    );
    expect(read).toBeGreaterThan(200);
  });

  test('hostile cells and columns', async () => {
    const make = (random: Random) => {
      const rows = table.split('\n').map((line) => line.split(','));
      for (let count = 1 + random.below(4); count > 0; count--) {
        const row = rows[random.below(rows.length)]!;
        row[random.below(row.length)] = hostileCells[random.below(hostileCells.length)]!;
      }
      return { text: rows.map((row) => row.join(',')).join('\n'), schema: random.below(schemas.length) };
    };
    const read = await fuzz('CSV cells', 8000, make, ({ text, schema }) =>
      ending(() => tableRows('fuzzed.csv', text, schemas[schema]!)),
    );
    expect(read).toBeGreaterThan(200);
  });

  test('any text goes into a table and comes back', () => {
    const text = fc.string({ unit: 'binary', minLength: 1, maxLength: 30 });
    fc.assert(
      fc.property(
        text,
        text,
        fc.double({ noNaN: true, noDefaultInfinity: true }),
        (recording, id, startS) => {
          const row = { ...train, recording, train_id: id, start_s: startS };
          const [back] = tableRows('made.csv', formatTable(trainSchema, [row]), trainSchema);
          expect(back!.row).toEqual({ ...row, start_s: startS + 0 });
        },
      ),
      { numRuns: 3000, seed: 7 },
    );
  });
});

describe('JSON', () => {
  const settings = JSON.stringify({ ...newSettings('hive'), channels: [1, 2] }, null, 1);
  const deep = (depth: number, open: string, close: string) => `${open.repeat(depth)}1${close.repeat(depth)}`;
  const hostileValues = [
    '1e308',
    '-1e309',
    'null',
    '""',
    '[]',
    '{}',
    'true',
    '"__proto__"',
    '{"__proto__":{"readOnly":true}}',
    '{"constructor":{"prototype":{"x":1}}}',
    '{"toString":1,"valueOf":2,"hasOwnProperty":3}',
    deep(2000, '[', ']'),
    deep(2000, '{"a":', '}'),
    '"\\ud800"',
    '9007199254740993',
  ];
  const readAs = {
    settings: (text: string) => settingsOf('study.json', text),
    calibration: (text: string) => checkedCalibration('calibration.json', JSON.parse(text)),
  };

  test('mutated study.json', async () => {
    const seed = new Uint8Array(Buffer.from(settings));
    const read = await fuzz(
      'study.json',
      6000,
      (random) => (random.below(2) === 0 ? textOf(mutated(seed, random)) : retyped(settings, random)),
      (text) => ending(() => readAs.settings(text)),
    );
    expect(read).toBeGreaterThan(30);
  });

  test('hostile values in place of others', async () => {
    const places = [...settings.matchAll(/: ([^\n,{[]+)/g)];
    const make = (random: Random) => {
      const place = places[random.below(places.length)]!;
      const at = place.index + 2;
      const value = hostileValues[random.below(hostileValues.length)]!;
      return settings.slice(0, at) + value + settings.slice(at + place[1]!.length);
    };
    await fuzz('study.json values', 3000, make, (text) => ending(() => readAs.settings(text)));
    expect(({} as { readOnly?: boolean }).readOnly).toBeUndefined();
  });

  test.each(hostileValues)('the whole is %.40s', (text) => {
    expect(ending(() => readAs.settings(text))).toBe('refused');
    expect(ending(() => readAs.settings(`{"name":${text},"hive":${text}}`))).toBe('refused');
    if (text !== '"\\ud800"') expect(ending(() => readAs.calibration(text))).toBe('refused');
  });

  test.each([
    ['lists', deep(200_000, '[', ']')],
    ['objects', deep(200_000, '{"hive":', '}')],
    ['100 MB of text', JSON.stringify('x'.repeat(100_000_000))],
    ['a name of 100 MB', settings.replace('"hive"', JSON.stringify('x'.repeat(100_000_000)))],
    ['a list of a million numbers', JSON.stringify(new Array<number>(1_000_000).fill(1e308))],
  ])('deep or long: %s', (_, text) => {
    const begun = performance.now();
    expect(ending(() => readAs.settings(text))).toBe('refused');
    expect(performance.now() - begun).toBeLessThan(5000);
  });
});
