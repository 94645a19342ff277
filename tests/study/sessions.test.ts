import { describe, expect, test } from 'vitest';
import { clockNotes, sessionNotes, sessionsOf, type TimedRecording } from '../../src/study/sessions.ts';

const recording = (path: string, startTime: string | null, durationS = 600): TimedRecording => ({
  path,
  startTime,
  durationS,
  sampleRateHz: 8000,
  channelCount: 1,
});

describe('sessions are files of one recorder that follow one another', () => {
  test('in whatever order they come, to the second', () => {
    const sessions = sessionsOf(
      [
        recording('in/hive_20310614_095000.wav', '2031-06-14T09:50:00', 300),
        recording('in/hive_20310614_093000.wav', '2031-06-14T09:30:00'),
        recording('in/hive_20310614_094000.wav', '2031-06-14T09:40:00', 599.4),
      ],
      null,
    );
    expect(sessions).toEqual([
      {
        recordings: ['hive_20310614_093000.wav', 'hive_20310614_094000.wav', 'hive_20310614_095000.wav'],
        startTime: '2031-06-14T09:30:00',
        spanS: 1500,
        joints: [
          { before: 'hive_20310614_093000.wav', after: 'hive_20310614_094000.wav', gapS: 0 },
          { before: 'hive_20310614_094000.wav', after: 'hive_20310614_095000.wav', gapS: 0.6 },
        ],
      },
    ]);
    expect(sessionNotes(sessions)).toEqual([]);
  });

  test('gaps and overlaps are told in one line each', () => {
    const notes = sessionNotes(
      sessionsOf(
        [
          recording('h1.wav', '2031-06-14T09:00:00'),
          recording('h2.wav', '2031-06-14T09:10:12'),
          recording('h3.wav', '2031-06-14T09:20:15'),
          recording('h4.wav', '2031-06-14T09:30:10'),
        ],
        null,
      ),
    );
    expect(notes).toEqual([
      'session of 4 recordings from 2031-06-14T09:00:00: 2 gaps, 15.0 s together, the longest 12.0 s between ' +
        'h1.wav and h2.wav; dances that go on across are cut in two (a study joins them where the gap is short)',
      'session of 4 recordings from 2031-06-14T09:00:00: one overlap, 5.0 s between h3.wav and h4.wav; ' +
        'runs in it are counted twice',
    ]);
  });

  test('a file inside another does not end the session early', () => {
    const sessions = sessionsOf(
      [
        recording('h1.wav', '2031-06-14T09:00:00', 3600),
        recording('h2.wav', '2031-06-14T09:10:00', 60),
        recording('h3.wav', '2031-06-14T10:00:00', 60),
      ],
      null,
    );
    expect(sessions[0]!.joints.map(({ gapS }) => gapS)).toEqual([-3000, 0]);
    expect(sessions[0]!.joints[1]!.before).toBe('h1.wav');
  });

  test('other recorders, rates, later sessions and unknown times stay apart', () => {
    const sessions = sessionsOf(
      [
        recording('left_1.wav', '2031-06-14T09:00:00'),
        recording('right_1.wav', '2031-06-14T09:00:00'),
        recording('left_2.wav', '2031-06-14T09:10:00'),
        { ...recording('left_3.wav', '2031-06-14T09:20:00'), sampleRateHz: 44_100 },
        recording('left_4.wav', '2031-06-14T09:31:00'),
        recording('left_5.wav', null),
      ],
      null,
    );
    expect(sessions.map((session) => session.recordings)).toEqual([['left_1.wav', 'left_2.wav']]);
  });

  test('times with different offsets meet on one clock; local ones need the zone for it', () => {
    const files = [
      recording('h1.wav', '2031-06-14T09:00:00+02:00'),
      recording('h2.wav', '2031-06-14T07:10:00Z'),
      recording('h3.wav', '2031-06-14T09:20:00'),
    ];
    expect(sessionsOf(files, null).map(({ recordings }) => recordings)).toEqual([['h1.wav', 'h2.wav']]);
    expect(sessionsOf(files, 'Europe/Berlin').map(({ recordings }) => recordings.length)).toEqual([3]);
  });

  test('over the night the clocks change, files of one session still meet', () => {
    // 2031-03-30: at 02:00 clocks went on to 03:00.
    const files = [
      recording('h1.wav', '2031-03-30T01:30:00', 1800),
      recording('h2.wav', '2031-03-30T03:00:00', 1800),
    ];
    expect(sessionsOf(files, null)[0]).toBeUndefined();
    expect(sessionsOf(files, 'Europe/Berlin')[0]!.joints[0]!.gapS).toBe(0);
  });
});

describe('where the clocks change', () => {
  const notes = (startTime: string | null, durationS = 60, zone: string | null = 'Europe/Berlin') =>
    clockNotes({ startTime, durationS }, zone);

  test('a start that does not exist, or exists twice, is told', () => {
    expect(notes('2031-03-30T02:30:00')).toEqual([
      'start: the clock time "2031-03-30T02:30:00", which does not exist in Europe/Berlin: the clocks jumped ' +
        "over it; give the start with its offset from UTC, in the file's name or with --start",
    ]);
    expect(notes('2031-10-26T02:30:00')[0]).toContain('which exists twice in Europe/Berlin');
  });

  test('a recording over which the clocks change is told', () => {
    expect(notes('2031-03-30T01:30:00', 3600)[0]).toContain(
      'the clocks change in Europe/Berlin while it lasts',
    );
    expect(notes('2031-10-26T01:30:00', 7200)[0]).toContain('while it lasts');
  });

  test('nothing is told of plain times, times with an offset, and without a zone', () => {
    expect(notes('2031-06-14T09:30:00', 86_400)).toEqual([]);
    expect(notes('2031-03-30T02:30:00+02:00', 86_400)).toEqual([]);
    expect(notes('2031-03-30T02:30:00', 60, null)).toEqual([]);
    expect(notes(null)).toEqual([]);
  });
});
