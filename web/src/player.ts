import { bandShapes } from '../../src/signal/band-filter.ts';
import { placeInHand, wordsOf } from './loading.ts';
import { type Place, service } from './service.ts';
import { now, put, say } from './store.ts';

interface Playing {
  readonly source: AudioBufferSourceNode;
  readonly place: Place;
  readonly speed: number;
  readonly startedAt: number;
  readonly offsetS: number;
}

let context: AudioContext | null = null;
let playing: Playing | null = null;
let asked = new AbortController();
let loaded: { readonly key: string; readonly buffer: AudioBuffer } | null = null;
/** Where the sound is, for what draws the moving cursor. */
const watchers = new Set<(timeS: number | null) => void>();

export function watchPlayback(watcher: (timeS: number | null) => void): () => void {
  watchers.add(watcher);
  return () => watchers.delete(watcher);
}

/** Plays the window in hand from the cursor, or from its start when the cursor is at its end; or stops. */
export function togglePlayback(): void {
  if (now().playing) stopPlayback();
  else void play();
}

export function stopPlayback(): void {
  asked.abort();
  const { playing: was } = { playing };
  playing = null;
  if (was !== null) {
    was.source.onended = null;
    was.source.stop();
  }
  put({ playing: false });
  for (const watcher of watchers) watcher(null);
}

/** After a change of filter or speed: on from where it was. */
export function replay(): void {
  if (!now().playing || playing === null) return;
  const at = timeOf(playing);
  stopPlayback();
  put({ cursorS: at });
  void play();
}

async function play(): Promise<void> {
  asked.abort();
  asked = new AbortController();
  const { signal } = asked;
  const place = placeInHand();
  put({ playing: true });
  try {
    context ??= new AudioContext();
    await context.resume();
    const buffer = await bufferOf(context, place, signal);
    if (signal.aborted) return;
    start(context, buffer, place);
  } catch (error) {
    if (signal.aborted) return;
    put({ playing: false });
    say('trouble', `This window cannot be played: ${wordsOf(error)}`);
  }
}

async function bufferOf(audio: AudioContext, place: Place, signal: AbortSignal): Promise<AudioBuffer> {
  const key = JSON.stringify(place);
  if (loaded?.key === key) return loaded.buffer;
  const buffer = await audio.decodeAudioData(await service.audio(place, signal));
  loaded = { key, buffer };
  return buffer;
}

function start(audio: AudioContext, buffer: AudioBuffer, place: Place): void {
  const { cursorS, speed, filtered, study } = now();
  const source = new AudioBufferSourceNode(audio, { buffer, playbackRate: speed });
  let last: AudioNode = source;
  if (filtered && study !== null) {
    // Slowed sound is lower by the same factor, and so is its band.
    for (const { type, frequencyHz, ...shape } of bandShapes(study.settings.band)) {
      const Q = 'qDb' in shape ? shape.qDb : shape.q;
      const filter = new BiquadFilterNode(audio, { type, frequency: frequencyHz * speed, Q });
      last = last.connect(filter);
    }
  }
  last.connect(audio.destination);
  const inside = cursorS >= place.fromS && cursorS < place.toS - 0.05;
  const offsetS = inside ? cursorS - place.fromS : 0;
  source.start(0, offsetS);
  source.onended = stopPlayback;
  playing = { source, place, speed, startedAt: audio.currentTime, offsetS };
  requestAnimationFrame(follow);
}

function timeOf({ place, speed, startedAt, offsetS }: Playing): number {
  return Math.min(place.toS, place.fromS + offsetS + ((context?.currentTime ?? 0) - startedAt) * speed);
}

function follow(): void {
  if (playing === null) return;
  for (const watcher of watchers) watcher(timeOf(playing));
  requestAnimationFrame(follow);
}
