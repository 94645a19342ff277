import type { Queue, Run, Study } from '../../src/server/api.ts';
import type { Dance } from '../../src/study/study-schemas.ts';
import { inHand } from './in-hand.ts';
import { type Place, ServiceError, service } from './service.ts';
import { now, put, type State, say } from './store.ts';

/** What to say of a failure. */
export function wordsOf(error: unknown): string {
  return error instanceof Error ? error.message : String(error);
}

const isAborted = (error: unknown) => (error as Error).name === 'AbortError';

/** Reads the study, and shows its first recording at its first sound to review. */
export async function openStudyPage(): Promise<void> {
  try {
    const study = await service.study();
    put({ study, progress: study.progress, trouble: null });
    const first = study.recordings.find(({ detection }) => detection !== null) ?? study.recordings[0];
    if (first !== undefined) await showRecording(first.id, 1);
    await readHistory();
  } catch (error) {
    put({ trouble: wordsOf(error) });
  }
}

/** Reads anew what feeders, calibrations and values in use there are. */
export async function refreshStudy(): Promise<Study | null> {
  try {
    const study = await service.study();
    put({ study, progress: study.progress });
    return study;
  } catch (error) {
    say('trouble', wordsOf(error));
    return null;
  }
}

export async function readHistory(): Promise<void> {
  const { reviewer } = now();
  if (reviewer === '') return;
  try {
    const { undoCount, redoCount } = await service.history(reviewer);
    put({ undoCount, redoCount });
  } catch (error) {
    say('trouble', wordsOf(error));
  }
}

export async function showRecording(recordingId: number, channel: number): Promise<void> {
  put({
    recordingId,
    channel,
    along: 'queue',
    placed: false,
    fromS: 0,
    cursorS: 0,
    sounds: new Map(),
    known: null,
    selected: [],
    danceId: null,
    dance: null,
    estimate: { kind: 'none' },
    ribbon: null,
    queue: null,
  });
  // The queue tells which window comes first; its picture must not wait for what the rest of the page takes.
  const asked = now();
  const queue = await askQueue();
  if (now().recordingId !== recordingId || now().channel !== channel) return;
  const first = queue?.items.find((item) => item.channel === channel);
  const moved = now().selected.length > 0 || now().fromS > 0;
  if (!moved && first !== undefined) select(first.id, first);
  put({ placed: true });
  void readSounds();
  // The picture is asked for before two hundred cards are drawn, and answered before all dances are summed up.
  await pause(0);
  takeQueue(queue, asked);
  await Promise.race([firstPicture, pause(PICTURE_FIRST_MS)]);
  await Promise.all([readRibbon(), readDances()]);
}

const PICTURE_FIRST_MS = 1000;
const pause = (ms: number) => new Promise<void>((resolve) => setTimeout(resolve, ms));

let pictured = () => {};
const firstPicture = new Promise<void>((resolve) => {
  pictured = resolve;
});

/** Told when a spectrogram has come, or could not. */
export const pictureCame = (): void => pictured();

export async function readRibbon(): Promise<void> {
  const { recordingId, channel } = now();
  try {
    const ribbon = await service.ribbon(recordingId, channel);
    if (now().recordingId === recordingId && now().channel === channel) put({ ribbon });
  } catch (error) {
    say('trouble', `The day ribbon could not be read: ${wordsOf(error)}`);
  }
}

export async function readDances(): Promise<void> {
  const { recordingId } = now();
  try {
    const listed = await service.dances(recordingId);
    if (now().recordingId !== recordingId) return;
    const across = listed.filter(({ parts }) => parts.length > 0);
    const here = listed.flatMap((one): Dance[] =>
      one.parts.length === 0 ? [one] : one.parts.filter((part) => part.recordingId === recordingId),
    );
    put({
      dances: new Map(here.map((one) => [one.id, one])),
      wholes: new Map(across.flatMap((one) => one.parts.map(({ id }) => [id, one]))),
    });
  } catch (error) {
    say('trouble', `The dances could not be read: ${wordsOf(error)}`);
  }
}

const QUEUE_LENGTH = 200;

export async function readQueue(): Promise<void> {
  const asked = now();
  takeQueue(await askQueue(), asked);
}

/** Unless another recording or choice has been made meanwhile, which asks for itself. */
function takeQueue(queue: Queue | null, asked: State): void {
  const { recordingId, queueOrder, queueAll } = now();
  const same =
    recordingId === asked.recordingId && queueOrder === asked.queueOrder && queueAll === asked.queueAll;
  if (queue !== null && same) put({ queue: { ...queue, all: queueAll }, queueTrouble: null });
}

/** How many there are for the queue, of sounds too that it does not list; the rows stay as they are. */
export async function countQueue(): Promise<void> {
  const asked = now();
  const counted = await askQueue(1);
  const { queue, recordingId, unsaved } = now();
  // An edit on its way is counted here or there; it asks again.
  if (counted === null || queue === null || unsaved > 0 || recordingId !== asked.recordingId) return;
  if (queue.all === asked.queueAll) put({ queue: { ...queue, total: counted.total } });
}

async function askQueue(length = QUEUE_LENGTH): Promise<Queue | null> {
  const { recordingId, queueOrder, queueAll } = now();
  try {
    const include = queueAll ? 'all' : 'unreviewed';
    return await service.queue(recordingId, queueOrder, include, length);
  } catch (error) {
    put({ queueTrouble: wordsOf(error) });
    return null;
  }
}

let readingSounds = new AbortController();

/** The place of the window in hand, cut to the recording. */
export function placeInHand(): Place {
  const { recordingId, channel, fromS, spanS } = now();
  return { recordingId, channel, fromS, toS: Math.min(fromS + spanS, durationS()) };
}

export function durationS(): number {
  const { study, recordingId } = now();
  return study?.recordings.find(({ id }) => id === recordingId)?.durationS ?? 0;
}

/** Sounds of the window and of as much to either side, unless they are known. */
export async function readSounds(anew = false): Promise<void> {
  const { known } = now();
  const place = placeInHand();
  if (place.toS <= place.fromS) return;
  if (!anew && known !== null && known.fromS <= place.fromS && known.toS >= place.toS) return;
  readingSounds.abort();
  readingSounds = new AbortController();
  const margin = Math.max(15, place.toS - place.fromS);
  const wide = {
    ...place,
    fromS: Math.max(0, place.fromS - margin),
    toS: Math.min(durationS(), place.toS + margin),
  };
  try {
    const { sounds, dances } = await service.window(wide, readingSounds.signal);
    const all = new Map(now().dances);
    for (const dance of dances) all.set(dance.id, dance);
    put({
      sounds: new Map(sounds.map((sound) => [sound.id, sound])),
      dances: all,
      known: { fromS: wide.fromS, toS: wide.toS },
      rowsTrouble: null,
    });
  } catch (error) {
    if (!isAborted(error)) put({ rowsTrouble: wordsOf(error) });
  }
}

/** Moves the window; within the recording, 1 to 60 s long. */
export function moveTo(fromS: number, spanS = now().spanS): void {
  const whole = durationS();
  const span = Math.min(60, Math.max(1, spanS), Math.max(1, whole));
  const from = Math.min(Math.max(0, fromS), Math.max(0, whole - span));
  const { cursorS } = now();
  const inside = cursorS >= from && cursorS <= from + span;
  put({ fromS: from, spanS: span, cursorS: inside ? cursorS : from });
  void readSounds();
}

interface Spanned {
  readonly startS: number;
  readonly endS: number;
  readonly danceId: string | null;
  readonly channel: number;
}

/** Another channel of the recording: its picture, its sounds and its day. */
function turnToChannel(channel: number): void {
  put({ channel, sounds: new Map(), known: null, ribbon: null });
  void readRibbon();
}

/**
 * Takes a sound in hand, turns to its channel, brings it into the window, and its dance onto the ladder.
 *
 * @param more beside what is in hand; one that is in hand already is let go
 */
export function select(id: string, sound: Spanned | undefined = now().sounds.get(id), more = false): void {
  if (sound !== undefined && sound.channel !== now().channel) turnToChannel(sound.channel);
  const { selected, fromS, spanS } = now();
  if (more && selected.includes(id)) {
    put({ selected: selected.filter((one) => one !== id) });
    return;
  }
  const held = more ? inHand() : [];
  put({ selected: more ? [id, ...selected] : [id], held, cursorS: sound?.startS ?? now().cursorS });
  if (sound === undefined) return;
  const seen = sound.startS >= fromS + 0.04 * spanS && sound.endS <= fromS + 0.96 * spanS;
  if (!seen) moveTo((sound.startS + sound.endS) / 2 - spanS / 2);
  else void readSounds();
  const danceId = sound.danceId ?? danceNear(sound)?.id ?? null;
  if (danceId !== null && danceId !== now().danceId) void showDance(danceId);
}

const NEAR_S = 10;

/** A call or lone run is judged by the dance around it: the one nearest in time. */
function danceNear({ startS }: Spanned): Dance | undefined {
  const { dances, recordingId, channel } = now();
  const awayS = (dance: Dance) => Math.max(0, dance.startS - startS, startS - dance.endS);
  return [...dances.values()]
    .filter((dance) => dance.recordingId === recordingId && dance.channel === channel)
    .filter((dance) => awayS(dance) < NEAR_S)
    .sort((a, b) => awayS(a) - awayS(b))[0];
}

/** Puts a dance on the ladder and asks for its distance. */
export async function showDance(danceId: string | null): Promise<void> {
  if (danceId === null) {
    put({ danceId: null, dance: null, estimate: { kind: 'none' } });
    return;
  }
  const changed = danceId !== now().danceId;
  put(changed ? { danceId, dance: null, estimate: { kind: 'none' } } : { danceId });
  try {
    const dance = await service.dance(danceId);
    if (now().danceId !== danceId) return;
    put({ dance });
  } catch (error) {
    if (error instanceof ServiceError && error.status === 404) put({ danceId: null, dance: null });
    else say('trouble', `The dance could not be read: ${wordsOf(error)}`);
    return;
  }
  void readEstimate();
}

/**
 * Puts a dance on the ladder and takes its first run in hand, of those that are wanted if there are any. Until it has
 * come nothing is in hand, so that no verdict hits what was left.
 */
export async function goToDance(danceId: string, wanted: (run: Run) => boolean = () => true): Promise<void> {
  put({ along: 'dance', selected: [] });
  await showDance(danceId);
  if (now().danceId !== danceId || now().selected.length > 0) return;
  const runs = now().dance?.runs.filter((run) => run.danceId === danceId) ?? [];
  const first = runs.find(wanted) ?? runs[0];
  if (first !== undefined) select(first.id, first);
}

/** Takes a run of the dance in hand in hand, in whichever recording it lies. */
export function goToRun(run: Run, more = false): void {
  const away = run.recordingId !== now().recordingId;
  // The recording asks for its queue and takes the first of it in hand, unless something is by then.
  if (away) void showRecording(run.recordingId, run.channel);
  put({ along: 'dance' });
  select(run.id, run, more && !away);
}

let estimating = new AbortController();

export async function readEstimate(): Promise<void> {
  estimating.abort();
  estimating = new AbortController();
  const { signal } = estimating;
  const { danceId, study } = now();
  if (danceId === null) return;
  if (study?.calibrations.length === 0) {
    put({ estimate: { kind: 'no-calibration' } });
    return;
  }
  try {
    const value = await service.estimate(danceId, signal);
    if (now().danceId === danceId) put({ estimate: { kind: 'known', value } });
  } catch (error) {
    if (signal.aborted || now().danceId !== danceId) return;
    put({ estimate: { kind: 'trouble', text: wordsOf(error) } });
  }
}
