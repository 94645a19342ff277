import { InputError } from '../input-error.ts';
import { shortestSoundS } from './least-sound-length.ts';
import type { DanceState, RowStates, SoundState, StoredDance, StoredSound } from './store/rows.ts';
import { danceState, emptyDance, soundState } from './store/rows.ts';
import type { Edit } from './study-schemas.ts';

/** What planning an edit needs to know of the study. */
export interface EditContext {
  /** The sounds and dances the edit names, as they are. */
  readonly sounds: readonly StoredSound[];
  readonly dance: StoredDance | null;
  /** Middles of the pulses of a sound's sources, s, also those outside its present bounds. */
  readonly pulseTimesS: (sound: SoundState) => readonly number[];
  readonly recording: (id: number) => { readonly durationS: number; readonly channelCount: number } | null;
  /** The dance that a reviewer has just taken a sound out of by making it a call; null for others. */
  readonly formerDanceId: (soundId: string) => string | null;
  readonly newSoundId: (recordingId: number, channel: number, letter: 't' | 'c') => string;
  readonly newDanceId: (recordingId: number, channel: number) => string;
}

/** Rows after the edit. */
export interface EditPlan {
  readonly recordingId: number;
  readonly after: RowStates;
}

/**
 * What an edit makes of the rows it names. Nothing is written.
 *
 * @throws InputError for an edit that makes no sense: an end before its start, a call in a dance, sounds of two
 *   recordings joined
 */
export function planEdit(edit: Edit, context: EditContext): EditPlan {
  switch (edit.kind) {
    case 'accept':
      return eachSound(context, (sound) => ({ ...sound, status: judged(sound), edited: true }));
    case 'reject':
      return eachSound(context, (sound) => ({ ...sound, status: 'rejected', edited: true }));
    case 'times':
      return eachSound(context, (sound) => retimed(sound, edit.startS, edit.endS, context));
    case 'sound-kind':
      return eachSound(context, (sound, id) => ({
        ...sound,
        kind: edit.soundKind,
        danceId: edit.soundKind === 'train' ? (sound.danceId ?? context.formerDanceId(id)) : null,
        status: judged(sound),
        edited: true,
      }));
    case 'split':
      return planSplit(edit, context);
    case 'join':
      return planJoin(context);
    case 'add':
      return planAdd(edit, context);
    case 'assign':
      return planAssign(edit.danceId, context);
    case 'dance':
      return planDance(edit.changes, context);
  }
}

function eachSound(context: EditContext, change: (sound: SoundState, id: string) => SoundState): EditPlan {
  const after: Record<string, SoundState> = {};
  for (const sound of context.sounds) after[sound.id] = change(soundState(sound), sound.id);
  return { recordingId: context.sounds[0]!.recordingId, after: { sounds: after, dances: {} } };
}

/** Status of a sound that a reviewer has judged real. */
function judged(sound: SoundState): 'accepted' | 'added' {
  return sound.detectionId === null ? 'added' : 'accepted';
}

function retimed(sound: SoundState, startS: number, endS: number, context: EditContext): SoundState {
  checkSpan(startS, endS, sound.recordingId, context);
  const pulses = context.pulseTimesS(sound).filter((time) => time >= startS && time <= endS);
  return {
    ...sound,
    startS,
    endS,
    pulseCount: sound.detectionId === null || sound.pulseCount === null ? sound.pulseCount : pulses.length,
    status: judged(sound),
    edited: true,
  };
}

function checkSpan(startS: number, endS: number, recordingId: number, context: EditContext): void {
  const durationS = context.recording(recordingId)?.durationS ?? 0;
  if (endS - startS >= shortestSoundS && startS >= 0 && endS <= durationS) return;
  throw wrong(
    `${startS} to ${endS} s`,
    `an end at least ${shortestSoundS} s after the start, both within the recording's ${durationS.toFixed(3)} s`,
  );
}

function planSplit(edit: Extract<Edit, { kind: 'split' }>, context: EditContext): EditPlan {
  const { id, recordingId, channel, startS, endS } = context.sounds[0]!;
  const whole = soundState(context.sounds[0]!);
  const [firstS, secondS] = [edit.firstEndS - startS, endS - edit.secondStartS];
  if (!(Math.min(firstS, secondS) >= shortestSoundS && edit.firstEndS <= edit.secondStartS)) {
    throw wrong(
      `a split at ${edit.firstEndS} and ${edit.secondStartS} s`,
      `two times in order within ${startS} to ${endS} s, that leave each part at least ${shortestSoundS} s`,
    );
  }
  const letter = whole.kind === 'train' ? 't' : 'c';
  const second = context.newSoundId(recordingId, channel, letter);
  return {
    recordingId,
    after: {
      sounds: {
        [id]: retimed(whole, startS, edit.firstEndS, context),
        [second]: retimed(whole, edit.secondStartS, endS, context),
      },
      dances: {},
    },
  };
}

function planJoin(context: EditContext): EditPlan {
  const parts = [...context.sounds].sort((a, b) => a.startS - b.startS);
  const [first, ...rest] = parts as [StoredSound, ...StoredSound[]];
  const odd = rest.find(
    (part) =>
      part.recordingId !== first.recordingId || part.channel !== first.channel || part.kind !== first.kind,
  );
  if (odd !== undefined) {
    throw wrong(`${first.id} and ${odd.id}`, 'sounds of one kind, on one channel of one recording');
  }
  // Only what comes of one detection keeps its pulses apart by id.
  const sourced = parts.find((part) => part.detectionId !== null) ?? first;
  const sources = parts
    .filter((part) => part.detectionId === sourced.detectionId)
    .flatMap((part) => part.sources);
  const joined: SoundState = {
    ...soundState(first),
    danceId: parts.find((part) => part.danceId !== null)?.danceId ?? null,
    pulseRateHz: sourced.pulseRateHz,
    carrierHz: sourced.carrierHz,
    detectionId: sourced.detectionId,
    pulseCount: sourced.pulseCount,
    sources: [...new Set(sources)],
  };
  const endS = Math.max(...parts.map((part) => part.endS));
  const gone = Object.fromEntries(rest.map((part) => [part.id, null]));
  return {
    recordingId: first.recordingId,
    after: { sounds: { [first.id]: retimed(joined, first.startS, endS, context), ...gone }, dances: {} },
  };
}

function planAdd(edit: Extract<Edit, { kind: 'add' }>, context: EditContext): EditPlan {
  const { recordingId, channel, soundKind, startS, endS } = edit;
  const recording = context.recording(recordingId);
  if (recording === null || channel > recording.channelCount) {
    throw wrong(`recording ${recordingId}, channel ${channel}`, 'a recording and channel of the study');
  }
  checkSpan(startS, endS, recordingId, context);
  if (edit.danceId !== null && soundKind !== 'train') {
    throw wrong(`a ${soundKind} in a dance`, 'only trains in dances');
  }
  const place = { recordingId, channel };
  const { danceId, dances } = danceFor(edit.danceId, place, context);
  const id = context.newSoundId(recordingId, channel, soundKind === 'train' ? 't' : 'c');
  const added: SoundState = {
    ...place,
    kind: soundKind,
    startS,
    endS,
    danceId,
    pulseCount: null,
    pulseRateHz: null,
    carrierHz: null,
    snrDb: null,
    confidence: null,
    status: 'added',
    edited: true,
    detectionId: null,
    sources: [],
  };
  return { recordingId, after: { sounds: { [id]: added }, dances } };
}

function planAssign(wanted: string | null, context: EditContext): EditPlan {
  const call = context.sounds.find((sound) => sound.kind !== 'train');
  if (call !== undefined) throw wrong(`${call.id}, a ${call.kind}`, 'only trains in dances');
  const first = context.sounds[0]!;
  const { danceId, dances } = danceFor(wanted, first, context);
  const elsewhere = context.sounds.find(
    (sound) => sound.recordingId !== first.recordingId || sound.channel !== first.channel,
  );
  if (elsewhere !== undefined) {
    throw wrong(`${elsewhere.id} beside ${first.id}`, 'trains on one channel of one recording in one dance');
  }
  const plan = eachSound(context, (sound) => ({ ...sound, danceId, edited: true }));
  return { ...plan, after: { ...plan.after, dances } };
}

/** The dance that `wanted` means, made when it is 'new'. */
function danceFor(
  wanted: string | null,
  place: { readonly recordingId: number; readonly channel: number },
  context: EditContext,
): { danceId: string | null; dances: Record<string, DanceState> } {
  if (wanted === null) return { danceId: null, dances: {} };
  const { recordingId, channel } = place;
  if (wanted === 'new') {
    const danceId = context.newDanceId(recordingId, channel);
    return { danceId, dances: { [danceId]: { ...emptyDance, recordingId, channel } } };
  }
  const { dance } = context;
  if (dance === null) throw wrong(`no dance ${wanted}`, "the id of a dance, or 'new'");
  if (dance.recordingId !== recordingId || dance.channel !== channel) {
    throw wrong(`dance ${wanted} of another recording or channel`, 'a dance on the same channel');
  }
  return { danceId: wanted, dances: {} };
}

function planDance(changes: Extract<Edit, { kind: 'dance' }>['changes'], context: EditContext): EditPlan {
  const dance = context.dance!;
  const { feederId, ...others } = changes;
  const feeder =
    feederId === undefined
      ? {}
      : feederId === 'auto'
        ? { feederId: null, feederSet: false }
        : { feederId, feederSet: true };
  const given = Object.fromEntries(Object.entries(others).filter(([, value]) => value !== undefined));
  const after: DanceState = { ...danceState(dance), ...given, ...feeder };
  return { recordingId: dance.recordingId, after: { sounds: {}, dances: { [dance.id]: after } } };
}

function wrong(found: string, wanted: string): InputError {
  return new InputError({ file: 'edit', found, wanted });
}
