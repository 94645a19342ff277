import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { nameCalls } from '../../src/dance/call-kinds.ts';
import type { Tone } from '../../src/dance/find-calls.ts';
import { madeTone } from './made-tone.ts';

const tone = (startS: number, lengthS: number, carrierHz: number): Tone =>
  madeTone({ startS, endS: startS + lengthS, carrierHz });

const named = (tones: readonly Tone[]) =>
  nameCalls(tones).map(({ kind, tones: { length } }) => [kind, length]);

describe('nameCalls', () => {
  test('begging: a short tone near 320 Hz (Michelsen, Kirchner & Lindauer 1986)', () => {
    expect(named([tone(1, 0.04, 320), tone(3, 0.12, 330), tone(6, 0.2, 310)])).toEqual([
      ['begging', 1],
      ['begging', 1],
      ['begging', 1],
    ]);
  });

  test('piping: a tone of about 1 s, 330 to 430 Hz (Pratt et al. 1996)', () => {
    expect(named([tone(1, 0.8, 340), tone(5, 1.2, 420)])).toEqual([
      ['piping', 1],
      ['piping', 1],
    ]);
  });

  test('tooting: a long tone, then short ones in a row at one pitch (Michelsen et al. 1986)', () => {
    const calls = nameCalls([
      tone(1, 1, 450),
      tone(2.2, 0.25, 452),
      tone(2.6, 0.25, 449),
      tone(3, 0.25, 451),
      tone(3.4, 0.25, 450),
    ]);
    expect(calls).toHaveLength(1);
    expect(calls[0]).toMatchObject({ kind: 'tooting', startS: 1 });
    expect(calls[0]!.endS).toBeCloseTo(3.65, 9);
    expect(calls[0]!.tones).toHaveLength(5);
  });

  test('tooting is known by the beat of its short tones where the long ones before them are not heard', () => {
    const row = [0, 1, 2, 3, 4].map((k) => tone(1 + 0.4 * k, 0.24, 440));
    expect(named(row)).toEqual([['tooting', 5]]);
    expect(named(row.slice(0, 4)).map(([kind]) => kind)).not.toContain('tooting');
  });

  test('quacking: a row of tones under 0.2 s near 350 Hz (Kirchner 1993)', () => {
    const row = [0, 1, 2, 3, 4].map((k) => tone(1 + 0.25 * k, 0.15, 350));
    expect(named(row)).toEqual([['quacking', 5]]);
  });

  test('quacking with a tone unheard is one row; tones without a beat are none', () => {
    const row = [0, 1, 3, 4].map((k) => tone(1 + 0.15 * k, 0.09, 360));
    expect(named(row)).toEqual([['quacking', 4]]);
    const unbeaten = [0, 0.22, 0.55].map((at) => tone(1 + at, 0.09, 360));
    expect(named(unbeaten).map(([kind]) => kind)).toEqual(['begging', 'begging', 'begging']);
  });

  test('a tone off the beat amid quacking ends no row, and a begging call beside its carrier is none of it', () => {
    const row = [0, 1, 2, 3, 4].map((k) => tone(1 + 0.16 * k, 0.09, 355));
    const splinter = tone(1.42, 0.05, 354);
    const begging = tone(1.8, 0.12, 371);
    const all = [...row, splinter, begging].sort((a, b) => a.startS - b.startS);
    expect(named(all)).toEqual([
      ['quacking', 6],
      ['begging', 1],
    ]);
  });

  test('tooting goes on over three tones unheard and over what does not fit', () => {
    const row = [0, 1, 2, 3, 7, 8].map((k) => tone(1 + 0.38 * k, 0.25, 440));
    const hum = tone(2.03, 0.04, 442);
    expect(named([...row, hum].sort((a, b) => a.startS - b.startS))).toEqual([
      ['tooting', 6],
      ['other', 1],
    ]);
  });

  test('tooting whose long tone is followed by its short ones after a while', () => {
    const row = [0, 1, 2, 3, 4].map((k) => tone(4 + 0.4 * k, 0.24, 440));
    expect(named([tone(1, 0.9, 445), ...row])).toEqual([['tooting', 6]]);
    expect(named([tone(0, 0.2, 445), ...row])[0]).toEqual(['other', 1]);
  });

  test('two queens at once, and hum between, are told apart by carrier', () => {
    const toots = [0, 1.2, 1.6, 2, 2.4].map((at, k) => tone(1 + at, k === 0 ? 1 : 0.25, 440));
    const quacks = [0, 1, 2, 3].map((k) => tone(2.1 + 0.21 * k, 0.14, 360));
    const hum = [tone(2.3, 0.06, 560), tone(2.9, 0.06, 600)];
    const all = [...toots, ...quacks, ...hum].sort((a, b) => a.startS - b.startS);
    expect(named(all)).toEqual([
      ['tooting', 5],
      ['quacking', 4],
      ['other', 1],
      ['other', 1],
    ]);
  });

  test('a tone of one queen’s row is not drawn into another’s that begins later and ends sooner', () => {
    // 40 Hz apart, and each tone of the second begins while one of the first sounds, but for the first’s last one.
    const first = [0, 1, 2, 3, 4, 5, 6].map((k) => tone(1 + 0.4 * k, 0.24, 420));
    const second = [0, 1, 2, 3, 4].map((k) => tone(1.2 + 0.4 * k, 0.24, 460));
    const tones = [...first, ...second].sort((a, b) => a.startS - b.startS);
    expect(named(tones)).toEqual([
      ['tooting', 7],
      ['tooting', 5],
    ]);
  });

  test('tooting may open with two long tones, and wait after either', () => {
    const row = [0, 1, 2].map((k) => tone(6 + 0.4 * k, 0.24, 440));
    expect(named([tone(1, 0.9, 445), tone(3.4, 0.6, 442), ...row])).toEqual([['tooting', 5]]);
    // A third one is none of the opening.
    expect(named([tone(-1, 0.9, 445), tone(1, 0.9, 445), tone(3.4, 0.4, 442), ...row])[0]).not.toEqual([
      'tooting',
      6,
    ]);
  });

  test('three begging calls that happen to keep a beat are no quacking, and a tone of 0.24 to 0.35 s is neither a begging call nor piping', () => {
    expect(named([tone(1, 0.12, 350), tone(1.2, 0.12, 350), tone(1.4, 0.12, 350)])).toEqual([
      ['begging', 1],
      ['begging', 1],
      ['begging', 1],
    ]);
    expect(named([tone(1, 0.235, 330), tone(3, 0.25, 330), tone(5, 0.34, 330), tone(7, 0.36, 330)])).toEqual([
      ['begging', 1],
      ['other', 1],
      ['other', 1],
      ['piping', 1],
    ]);
  });

  test('other: a tone that is none of these', () => {
    expect(named([tone(1, 0.3, 300), tone(3, 0.1, 600), tone(5, 3, 280)])).toEqual([
      ['other', 1],
      ['other', 1],
      ['other', 1],
    ]);
  });

  test('a begging call just after another, or two seconds before tooting, is not drawn in', () => {
    const toots = [tone(4, 1, 450), tone(5.2, 0.25, 450), tone(5.6, 0.25, 450), tone(6, 0.25, 450)];
    expect(named([tone(1, 0.12, 320), tone(1.5, 0.12, 320), ...toots])).toEqual([
      ['begging', 1],
      ['begging', 1],
      ['tooting', 4],
    ]);
  });

  test('every tone ends up in one call, calls in order, within their time', () => {
    const anyTone = fc.record({
      gapS: fc.double({ min: 0.001, max: 1.5, noNaN: true }),
      lengthS: fc.double({ min: 0.05, max: 2, noNaN: true }),
      carrierHz: fc.double({ min: 250, max: 620, noNaN: true }),
    });
    fc.assert(
      fc.property(fc.array(anyTone, { maxLength: 30 }), (parts) => {
        let atS = 0;
        const tones = parts.map(({ gapS, lengthS, carrierHz }) => {
          const made = tone(atS + gapS, lengthS, carrierHz);
          atS = made.endS;
          return made;
        });
        const calls = nameCalls(tones);
        const called = calls.flatMap((call) => call.tones).sort((a, b) => a.startS - b.startS);
        expect(called).toEqual(tones);
        for (const call of calls) {
          expect(call.startS).toBe(call.tones[0]!.startS);
          expect(call.endS).toBe(Math.max(...call.tones.map(({ endS }) => endS)));
        }
      }),
      { numRuns: 200, seed: 5 },
    );
  });
});
