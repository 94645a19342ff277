import type { Rows } from '../../src/server/api.ts';
import type { DancePart, Edit, WindowSound } from '../../src/study/study-schemas.ts';
import { countQueue, readDances, readQueue, readRibbon, readSounds, showDance, wordsOf } from './loading.ts';
import { isReviewed, withRows } from './rows.ts';
import { conflictOf, ServiceError, service } from './service.ts';
import { dismissNotes, now, put, say } from './store.ts';

/** Versions that this page's own edits have moved on: an edit waiting behind them is made on what they left. */
const moved = new Map<string, { readonly from: number; readonly to: number }>();
/** How many edits wait for each row: until the last is answered the row stays as the reviewer left it. */
const waiting = new Map<string, number>();
/** Events that this page has made, and has had the answer of. */
const ownEvents = new Set<number>();

export const isOwnEvent = (id: number): boolean => ownEvents.has(id);

let line: Promise<void> = Promise.resolve();

type Target = { readonly id: string; readonly version: number };

const targetsOf = (edit: Edit): readonly Target[] =>
  'targets' in edit ? edit.targets : 'target' in edit ? [edit.target] : [];

function rebased<E extends Edit>(edit: E): E {
  const step = ({ id, version }: Target): Target => {
    const move = moved.get(id);
    return { id, version: move?.from === version ? move.to : version };
  };
  if ('targets' in edit) return { ...edit, targets: edit.targets.map(step) };
  return 'target' in edit ? { ...edit, target: step(edit.target) } : edit;
}

/** Whether edits are taken: the study may be changed, and it is known by whom. */
export const mayEdit = (): boolean => now().reviewer !== '' && now().study?.readOnly !== true;

/**
 * Shows an edit at once, writes it, and takes in what the service made of it. Edits go one after the other. Where
 * another reviewer was faster nothing is written: their row is shown, and that it is theirs.
 */
export function doEdit(edit: Edit): Promise<boolean> {
  const { study, reviewer } = now();
  if (study?.readOnly === true) {
    say('note', 'This study is served for reading only; nothing was changed.');
    return Promise.resolve(false);
  }
  if (reviewer === '') {
    say('note', 'Give your name first (top right): every edit is kept with who made it.');
    document.getElementById('reviewer')?.focus();
    return Promise.resolve(false);
  }
  dismissNotes();
  put({ unsaved: now().unsaved + 1, several: false, ...shownAtOnce(edit) });
  count(edit, 1);
  const requestId = crypto.randomUUID?.() ?? `${Date.now()}-${Math.random()}`;
  const done = line.then(() => send(edit, reviewer, requestId));
  line = done.then(() => {});
  return done;
}

function count(edit: Edit, by: 1 | -1): void {
  for (const { id } of targetsOf(edit)) waiting.set(id, (waiting.get(id) ?? 0) + by);
}

async function send(edit: Edit, reviewer: string, requestId: string): Promise<boolean> {
  const sent = rebased(edit);
  try {
    const result = await service.edit({ reviewer, requestId, edit: sent });
    count(edit, -1);
    ownEvents.add(result.event.id);
    for (const { id, version } of targetsOf(edit)) {
      const fresh = [...result.sounds, ...result.dances].find((row) => row.id === id);
      if (fresh !== undefined) moved.set(id, { from: version, to: fresh.version });
    }
    const { progress, undoCount, redoCount } = result;
    const settled = result.sounds.filter(({ id }) => (waiting.get(id) ?? 0) === 0);
    const rows = { ...result, sounds: settled };
    put({ ...withRows(now(), rows), progress, undoCount, redoCount, unsaved: now().unsaved - 1 });
    afterChange(result);
    if (edit.kind === 'add') selectAdded(result.sounds);
    return true;
  } catch (error) {
    count(edit, -1);
    put({ unsaved: now().unsaved - 1 });
    refused(error);
    return false;
  }
}

function selectAdded(sounds: readonly WindowSound[]): void {
  const [added] = sounds;
  if (added === undefined) return;
  put({ selected: [added.id], markS: null });
  if (added.danceId !== null && added.danceId !== now().danceId) void showDance(added.danceId);
}

function refused(error: unknown): void {
  const conflict = conflictOf(error);
  if (conflict !== null) {
    put(withRows(now(), conflict));
    void readSounds(true);
    afterChange(conflict);
    say('elsewhere', 'Changed by someone else meanwhile. Their version is shown; your change was not made.');
    return;
  }
  void readSounds(true);
  const { danceId } = now();
  if (danceId !== null) void showDance(danceId);
  const lost = error instanceof ServiceError && error.status === 0;
  say('trouble', lost ? `Not saved: ${wordsOf(error)}.` : wordsOf(error));
}

/** The edit on the rows at hand before the service has answered; what cannot be foreseen waits for it. */
function shownAtOnce(edit: Edit) {
  const change = (make: (sound: WindowSound) => WindowSound) => {
    const sounds = new Map(now().sounds);
    for (const { id } of targetsOf(edit)) {
      const sound = sounds.get(id);
      if (sound !== undefined) sounds.set(id, make(sound));
    }
    return { sounds };
  };
  const judged = (sound: WindowSound) =>
    sound.detectionId === null ? ('added' as const) : ('accepted' as const);
  switch (edit.kind) {
    case 'accept':
      return change((sound) => ({ ...sound, status: judged(sound) }));
    case 'reject':
      return change((sound) => ({ ...sound, status: 'rejected' }));
    case 'times':
      return change((sound) => ({
        ...sound,
        startS: edit.startS,
        endS: edit.endS,
        status: judged(sound),
        pulseTimesS: sound.pulseTimesS.filter((time) => time >= edit.startS && time <= edit.endS),
      }));
    case 'sound-kind':
      return change((sound) => ({ ...sound, kind: edit.soundKind, status: judged(sound) }));
    default:
      return {};
  }
}

let ribbonTimer: ReturnType<typeof setTimeout> | undefined;
let wholesChange = false;

/** Whether rows tell of dances that go on across recordings, or of some that did. */
function areAcross({ dances, removedDanceIds }: Pick<Rows, 'dances' | 'removedDanceIds'>): boolean {
  const { wholes } = now();
  const across = (row: DancePart) => row.partOf !== null || row.goesOnAs !== null || wholes.has(row.id);
  return dances.some(across) || removedDanceIds.some((id) => wholes.has(id));
}

/** Brings up to date what rests on rows: ladder and estimate at once, ribbon and count when the hands rest. */
export function afterChange(rows: Pick<Rows, 'dances' | 'removedDanceIds'>): void {
  const danceIds = [...rows.dances.map(({ id }) => id), ...rows.removedDanceIds];
  wholesChange ||= areAcross(rows);
  const { danceId, dance } = now();
  const own = danceId === null ? [] : [danceId, ...(dance?.dance.parts.map(({ id }) => id) ?? [])];
  const touched = own.some((id) => danceIds.includes(id));
  if (danceId !== null && touched) void showDance(danceId);
  else if (dance !== null && danceId !== null)
    void service.dance(danceId).then((fresh) => sameDance(danceId, fresh));
  clearTimeout(ribbonTimer);
  ribbonTimer = setTimeout(() => {
    void readRibbon();
    void countQueue();
    if (wholesChange) void readDances();
    wholesChange = false;
  }, 800);
  const { queue, queueAll } = now();
  const left = queue?.items.some((sound) => !isReviewed(sound)) ?? true;
  if (!left && !queueAll && queue !== null && queue.total > 0) void readQueue();
}

function sameDance(id: string, fresh: Awaited<ReturnType<typeof service.dance>>): void {
  if (now().danceId === id) put({ dance: fresh });
}

/** Takes back, or does again, the reviewer's own last edit. */
export function takeBack(what: 'undo' | 'redo'): Promise<void> {
  const { reviewer, study } = now();
  if (reviewer === '' || study?.readOnly === true) return Promise.resolve();
  const requestId = crypto.randomUUID?.() ?? `${Date.now()}-${Math.random()}`;
  dismissNotes();
  put({ unsaved: now().unsaved + 1 });
  const done = line.then(async () => {
    try {
      const result = await service.takeBack(what, reviewer, requestId);
      ownEvents.add(result.event.id);
      const { progress, undoCount, redoCount } = result;
      put({ ...withRows(now(), result), progress, undoCount, redoCount });
      afterChange(result);
      showWhere(result.sounds[0]);
      say('note', what === 'undo' ? 'Taken back.' : 'Done again.');
    } catch (error) {
      const body = error instanceof ServiceError ? (error.body as { error?: string } | null) : null;
      if (body?.error === 'nothing') say('note', `There is nothing to ${what}.`);
      else refused(error);
    }
    put({ unsaved: now().unsaved - 1 });
  });
  line = done;
  return done;
}

/** What was taken back is brought into the window, so that it is seen. */
function showWhere(sound: WindowSound | undefined): void {
  if (sound === undefined) return;
  const { fromS, spanS, recordingId, channel } = now();
  if (sound.recordingId !== recordingId || sound.channel !== channel) return;
  if (sound.endS > fromS && sound.startS < fromS + spanS) return;
  put({ fromS: Math.max(0, sound.startS - spanS / 2) });
  void readSounds();
}
