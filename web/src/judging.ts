import { callKindNames } from '../../src/dance/call-kinds/registry.ts';
import { shortestSoundS } from '../../src/study/least-sound-length.ts';
import type { SoundKind, WindowSound } from '../../src/study/study-schemas.ts';
import { doEdit, mayEdit } from './editing.ts';
import { inHand } from './in-hand.ts';
import { durationS } from './loading.ts';
import { goOn, inOrder } from './moving.ts';
import { splitPlace } from './split-place.ts';
import { now, put, say } from './store.ts';
import { timeText } from './time-text.ts';

export const SOUND_KINDS: readonly SoundKind[] = ['train', ...callKindNames];

const WORDS: Readonly<Partial<Record<SoundKind, string>>> = {
  train: 'waggle run',
  begging: 'begging call',
};

/** A kind without words of its own goes by its name. */
export const KIND_NAMES = Object.fromEntries(
  SOUND_KINDS.map((kind) => [kind, WORDS[kind] ?? kind]),
) as Readonly<Record<SoundKind, string>>;

export const STATUS_NAMES: Readonly<Record<string, string>> = {
  found: 'not reviewed',
  accepted: 'accepted',
  rejected: 'rejected',
  added: 'added by hand',
};

const targetOf = ({ id, version }: WindowSound) => ({ id, version });

function withSome(doIt: (some: readonly WindowSound[]) => void): void {
  const some = inHand();
  if (some.length === 0)
    say('note', 'Take a sound in hand first: click its bar, or press n or . for the next.');
  else doIt(some);
}

/** Accepts or rejects what is in hand, then goes on to what waits next on the reviewer's way. */
export function judge(kind: 'accept' | 'reject'): void {
  withSome((some) => {
    const saved = doEdit({ kind, targets: some.map(targetOf) });
    if (mayEdit()) void goOn(saved);
  });
}

/** Makes it the next kind of sound, or a given one. */
export function changeKind(step: number | SoundKind): void {
  withSome((some) => {
    const at = SOUND_KINDS.indexOf(some[0]!.kind);
    const soundKind = typeof step === 'string' ? step : SOUND_KINDS.at((at + step) % SOUND_KINDS.length)!;
    void doEdit({ kind: 'sound-kind', targets: some.map(targetOf), soundKind });
  });
}

/** Cuts at the cursor where it is inside, else in the widest gap between pulses. */
export function split(): void {
  withSome(([sound]) => {
    const place = splitPlace(sound!, now().cursorS);
    if (place === null) say('note', 'There is no room for two parts of 10 ms; it was left as it was.');
    else void doEdit({ kind: 'split', target: targetOf(sound!), ...place });
  });
}

/** Joins what is in hand, or the one in hand with the next of its kind. */
export function join(): void {
  withSome((some) => {
    const [first] = some;
    const next = inOrder().find((sound) => sound.startS > first!.startS && sound.kind === first!.kind);
    const parts = some.length > 1 ? some : next === undefined ? [] : [first!, next];
    if (parts.length < 2) say('note', 'There is no later sound of this kind near by to join it with.');
    else void doEdit({ kind: 'join', targets: parts.map(targetOf) });
  });
}

/** Gives what is in hand to the dance on the ladder, to one of its own, or to none. */
export function assign(to: 'ladder' | 'new' | null): void {
  withSome((some) => {
    const danceId = to === 'ladder' ? now().danceId : to;
    if (to === 'ladder' && danceId === null) {
      say('note', 'There is no dance on the ladder to assign it to.');
      return;
    }
    void doEdit({ kind: 'assign', targets: some.map(targetOf), danceId });
  });
}

/** New bounds for a sound; put into order and within the recording. */
export function setBounds(sound: WindowSound, startS: number, endS: number): void {
  const first = Math.max(0, Math.min(startS, endS));
  const last = Math.min(durationS(), Math.max(startS, endS));
  if (last - first < shortestSoundS) say('note', 'A sound is at least 10 ms long; it was left as it was.');
  else void doEdit({ kind: 'times', target: targetOf(sound), startS: first, endS: last });
}

/** Moves an end of the sound in hand. */
export function nudge(end: 'start' | 'end', byS: number): void {
  withSome(([sound]) => {
    const startS = end === 'start' ? sound!.startS + byS : sound!.startS;
    const endS = end === 'end' ? sound!.endS + byS : sound!.endS;
    if (endS - startS >= shortestSoundS) setBounds(sound!, startS, endS);
  });
}

/** Adds a sound; a run goes to the dance on the ladder when it lies within 20 s of it. */
export function addSound(soundKind: SoundKind, startS: number, endS: number): void {
  const { recordingId, channel, danceId, dance } = now();
  if (Math.abs(endS - startS) < shortestSoundS) return;
  const near =
    soundKind === 'train' &&
    dance?.runs.some(
      (run) =>
        run.danceId === danceId &&
        run.recordingId === recordingId &&
        run.channel === channel &&
        startS > run.startS - 20 &&
        startS < run.endS + 20,
    ) === true;
  void doEdit({
    kind: 'add',
    recordingId,
    channel,
    soundKind,
    startS: Math.max(0, Math.min(startS, endS)),
    endS: Math.min(durationS(), Math.max(startS, endS)),
    danceId: near ? danceId : null,
  });
}

/** By keyboard: the first press marks an end at the cursor, the second adds from there to the cursor. */
export function addAtCursor(soundKind: SoundKind): void {
  const { markS, cursorS } = now();
  if (markS === null) {
    put({ markS: cursorS });
    say('note', `Marked ${timeText(cursorS, 2)}. Move the cursor to the other end and press the key again.`);
    return;
  }
  put({ markS: null });
  if (Math.abs(cursorS - markS) < shortestSoundS)
    say('note', 'The two ends are in one place; nothing was added.');
  else addSound(soundKind, markS, cursorS);
}
