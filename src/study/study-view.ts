import { setImmediate } from 'node:timers/promises';
import { type DanceLink, type LinksBySeam, linksBySeam } from './dance-links.ts';
import { likelyFeederFinder } from './openings.ts';
import { lastEventId } from './store/events.ts';
import { pulsesWithin } from './store/pulses.ts';
import { recordingsTouched, runsOfDance, soundsWithin, stampedDances, storeStamp } from './store/queries.ts';
import { recordingById, startTimeOf } from './store/recordings.ts';
import { publicSound, type StoredSound } from './store/rows.ts';
import { danceById, soundById } from './store/state.ts';
import { type DanceSurroundings, danceOfRuns } from './study-dances.ts';
import { tableName } from './study-detect.ts';
import type { OpenStudy, StudyPlaces } from './study-folder.ts';
import type { Dance, DancePart, WindowSound } from './study-schemas.ts';
import { zonedClockFrom } from './zoned-clock.ts';

/** A study to be looked at: rows of the store in the light of feeders and openings. */
export interface StudyView {
  readonly study: OpenStudy;
  readonly places: StudyPlaces;
  /** What a dance of a recording is seen against; kept, since every row asks for it. */
  readonly around: (recordingId: number) => DanceSurroundings;
  /** Dances that go on across recordings, by the id of the later part. */
  readonly links: () => ReadonlyMap<string, DanceLink>;
  /** Ids of the dances that they go on as, by the id of the earlier part. */
  readonly goingOn: () => ReadonlyMap<string, string>;
  /** Dances summed up before, with the stamps they had. */
  readonly summed: Map<string, { readonly stamp: string; readonly dance: Dance | null }>;
}

/** A study with all that its rows need beside themselves; what a recording needs is reckoned when it is first asked for. */
export function studyView(study: OpenStudy, places: StudyPlaces): StudyView {
  const known = new Map<number, KnownSurroundings>();
  const feeders = new Map(places.feeders.map((feeder) => [feeder.feederId, feeder.distanceM]));
  const make = (recordingId: number, startTime: string | null): KnownSurroundings => ({
    startTime,
    around: {
      recordingName: tableName(recordingById(study.store, recordingId)!),
      startTimeAt: zonedClockFrom(startTime, study.settings.hive.timeZone),
      likelyFeeder: likelyFeederFinder(places.openings, startTime, study.settings.hive.timeZone),
      feederDistanceM: (feederId) => feeders.get(feederId) ?? null,
    },
  });
  const around = (recordingId: number): DanceSurroundings => {
    const startTime = startTimeOf(study.store, recordingId);
    const before = known.get(recordingId);
    const now = before?.startTime === startTime ? before : make(recordingId, startTime);
    known.set(recordingId, now);
    return now.around;
  };
  let linked: Linked | undefined;
  const linkedNow = () => {
    const stamp = storeStamp(study.store);
    if (linked?.stamp !== stamp) linked = linksBothWays(study, stamp, linked);
    return linked;
  };
  const links = () => linkedNow().links;
  return { study, places, around, links, goingOn: () => linkedNow().goingOn, summed: new Map() };
}

/** With the start they were made for: it may be corrected while the study is looked at. */
interface KnownSurroundings {
  readonly startTime: string | null;
  readonly around: DanceSurroundings;
}

interface Linked {
  readonly stamp: string;
  readonly eventId: number;
  readonly seams: LinksBySeam;
  readonly links: ReadonlyMap<string, DanceLink>;
  readonly goingOn: ReadonlyMap<string, string>;
}

/** Asked after every edit: only seams of recordings in which something has been written since are looked at anew. */
function linksBothWays({ store, settings }: OpenStudy, stamp: string, last: Linked | undefined): Linked {
  const eventId = lastEventId(store);
  const touched = last === undefined ? null : recordingsTouched(store, last.eventId);
  const seams =
    touched === null
      ? linksBySeam(store, settings.hive.timeZone)
      : linksBySeam(store, settings.hive.timeZone, last!.seams, touched);
  const links = new Map([...seams.values()].flatMap((some) => [...some]));
  const goingOn = new Map([...links].map(([later, { before }]) => [before, later]));
  return { stamp, eventId, seams, links, goingOn };
}

/** Dances of a recording, or of all, that have a run left, by recording and time. */
export function listDances(view: StudyView, recordingId?: number): Dance[] {
  const stamped = stampedDances(view.study.store, recordingId);
  return inOrder(stamped.flatMap((one) => summedUp(view, one)));
}

const AT_ONCE = 40;

/** As `listDances`, but lets others have their turn: the first time all dances of a day are to be summed up. */
export async function listDancesGently(view: StudyView, recordingId?: number): Promise<Dance[]> {
  const stamped = stampedDances(view.study.store, recordingId);
  const dances: Dance[] = [];
  for (const [k, one] of stamped.entries()) {
    if (k % AT_ONCE === AT_ONCE - 1) await setImmediate();
    // The study may have been closed in the meantime; nobody waits for the answer then.
    if (!view.study.store.open) return [];
    dances.push(...summedUp(view, one));
  }
  return inOrder(dances);
}

type StampedDance = ReturnType<typeof stampedDances>[number];

/** A dance summed up, from before where nothing of it has changed; as a list, empty when no run is left. */
function summedUp({ study, around, summed }: StudyView, { dance, stamp }: StampedDance): Dance[] {
  const before = summed.get(dance.id);
  const now =
    before?.stamp === stamp
      ? before.dance
      : danceOfRuns(dance, runsOfDance(study.store, dance.id), around(dance.recordingId));
  if (before?.stamp !== stamp) summed.set(dance.id, { stamp, dance: now });
  return now === null ? [] : [now];
}

const inOrder = (dances: Dance[]): Dance[] =>
  dances.sort((a, b) => a.recordingId - b.recordingId || a.startS - b.startS || (a.id < b.id ? -1 : 1));

/** A dance; null when there is none, or no run of it is left. */
export function danceInView({ study, around }: StudyView, id: string): Dance | null {
  const dance = danceById(study.store, id);
  return dance && danceOfRuns(dance, runsOfDance(study.store, id), around(dance.recordingId));
}

/** A dance as a row of its recording, with the dances of other recordings that it is one with. */
export function partInView(view: StudyView, dance: Dance): DancePart {
  const links = view.links();
  const firstOf = (id: string): string => {
    const before = links.get(id)?.before;
    return before === undefined ? id : firstOf(before);
  };
  const first = firstOf(dance.id);
  return {
    ...dance,
    recording: view.around(dance.recordingId).recordingName,
    partOf: first === dance.id ? null : first,
    goesOnAs: view.goingOn().get(dance.id) ?? null,
  };
}

function partsInView(view: StudyView, ids: readonly string[]): (DancePart | null)[] {
  return ids.map((id) => {
    const dance = danceInView(view, id);
    return dance && partInView(view, dance);
  });
}

/** A sound as windows and the ladder list it, with the middle of each pulse. */
export function soundInView({ study }: StudyView, sound: StoredSound): WindowSound {
  return { ...publicSound(sound), pulseTimesS: pulsesWithin(study.store, sound) };
}

/** Rows of a window: sounds that touch it, dances they are of. */
export function windowRows(
  view: StudyView,
  recordingId: number,
  channel: number,
  fromS: number,
  toS: number,
) {
  const sounds = soundsWithin(view.study.store, recordingId, channel, fromS, toS);
  const danceIds = [...new Set(sounds.flatMap(({ danceId }) => (danceId === null ? [] : [danceId])))];
  return {
    recordingId,
    from: fromS,
    to: toS,
    sounds: sounds.map((sound) => soundInView(view, sound)),
    dances: partsInView(view, danceIds).flatMap((dance) => dance ?? []),
  };
}

/** The named rows as they are; ids of those that are no more are listed apart. */
export function rowsInView(view: StudyView, soundIds: readonly string[], danceIds: readonly string[]) {
  const { store } = view.study;
  const found = soundIds.map((id) => soundById(store, id));
  const dances = partsInView(view, danceIds);
  return {
    sounds: found.flatMap((sound) => (sound === null ? [] : [soundInView(view, sound)])),
    removedSoundIds: soundIds.filter((_, index) => found[index] === null),
    dances: dances.flatMap((dance) => dance ?? []),
    removedDanceIds: danceIds.filter((_, index) => dances[index] === null),
  };
}
