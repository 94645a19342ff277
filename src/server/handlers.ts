import { danceInHand, listDancesInHand } from '../study/dance-in-hand.ts';
import { calibrationNamed, savedCalibrations } from '../study/store/calibrations.ts';
import { applyEdit, redoEdit, undoEdit } from '../study/store/edit.ts';
import { lastEventId, newestEvents, undoStacks } from '../study/store/events.ts';
import { progressOf, queuedSounds } from '../study/store/queries.ts';
import { recordingById, type StoredRecording } from '../study/store/recordings.ts';
import { publicSound } from '../study/store/rows.ts';
import { stateAt } from '../study/store/state.ts';
import type { ReviewEvent } from '../study/study-schemas.ts';
import { listRecordings, ribbonOf, summariseStudy } from '../study/study-summary.ts';
import { type StudyView, windowRows } from '../study/study-view.ts';
import type { EditResult } from './api.ts';
import { audioExcerpt } from './audio.ts';
import { estimateOf, mapOf, previewCalibration, saveNamedCalibration } from './calibrating.ts';
import { notFound, Refusal } from './failures.ts';
import type { Fitting } from './fitting.ts';
import type { Asked, RouteName } from './route-table.ts';
import type { SoundFiles } from './sound-files.ts';
import { spectrogramMaker } from './spectrogram.ts';
import { rowsOfEvent } from './stream.ts';

export interface HandlerContext {
  /** Feeders and openings may be changed while the service runs. */
  readonly view: () => StudyView;
  /** Reads them again where the files have changed. */
  readonly refresh: () => Promise<void>;
  readonly files: SoundFiles;
  readonly fitting: Fitting;
  readonly readOnly: boolean;
  /** Tells the other pages of what was just written. */
  readonly announce: () => void;
}

/** Bytes are sent as they are, all else as JSON. */
export type Handlers = {
  readonly [N in Exclude<RouteName, 'events'>]: (asked: Asked<N>) => unknown;
};

/** What the service does at each address. */
export function handlersOf(context: HandlerContext): Handlers {
  return { ...readers(context), ...soundReaders(context), ...writers(context), ...calibrators(context) };
}

type Some<N extends RouteName> = { readonly [K in N]: (asked: Asked<K>) => unknown };

function readers({
  view,
  refresh,
  readOnly,
}: HandlerContext): Some<
  'study' | 'recordings' | 'ribbon' | 'window' | 'queue' | 'dances' | 'dance' | 'history' | 'state'
> {
  const { store } = view().study;
  return {
    study: async () => {
      await refresh();
      return summariseStudy(view(), readOnly);
    },
    recordings: () => listRecordings(view().study),
    ribbon: ({ params, query }) => {
      const recording = channelOf(view(), params.id, query.channel);
      return ribbonOf(view().study, recording, query.channel);
    },
    window: ({ params, query }) => {
      channelOf(view(), params.id, query.channel);
      return windowRows(view(), params.id, query.channel, query.from, query.to);
    },
    queue: ({ query }) => {
      const { total, items } = queuedSounds(store, query);
      return { total, progress: progressOf(store, query.recordingId), items: items.map(publicSound) };
    },
    dances: ({ query }) => listDancesInHand(view(), query.recordingId),
    dance: ({ params }) => danceInHand(view(), params.id) ?? refuse(`dance ${params.id}`),
    history: ({ query }) => {
      const { undo, redo } =
        query.reviewer === undefined ? { undo: [], redo: [] } : undoStacks(store, query.reviewer);
      const events = newestEvents(store, query.limit, query.reviewer);
      return { events, undoCount: undo.length, redoCount: redo.length };
    },
    state: ({ params, query }) => {
      if (params.id > lastEventId(store)) throw notFound(`event ${params.id}`);
      const state = stateAt(store, params.id);
      const ofRecording = <R extends { recordingId: number }>(rows: Iterable<R>): R[] =>
        [...rows].filter((row) => query.recordingId === undefined || row.recordingId === query.recordingId);
      return {
        eventId: params.id,
        sounds: ofRecording(state.sounds.values()).map(publicSound),
        dances: ofRecording(state.dances.values()).map(
          ({ recordingId: _, channel: __, feederSet: ___, ...dance }) => dance,
        ),
      };
    },
  };
}

function soundReaders({ view, files }: HandlerContext): Some<'spectrogram' | 'audio'> {
  const spectrogram = spectrogramMaker(files);
  return {
    spectrogram: ({ params, query, signal }) => {
      insideOf(channelOf(view(), params.id, query.channel), query.from);
      return spectrogram({ recordingId: params.id, ...query }, signal);
    },
    audio: ({ params, query, signal }) => {
      insideOf(channelOf(view(), params.id, query.channel), query.from);
      return audioExcerpt(files, { recordingId: params.id, ...query }, signal);
    },
  };
}

function writers({ view, announce }: HandlerContext): Some<'edit' | 'undo' | 'redo'> {
  const { store } = view().study;
  const resultOf = (event: ReviewEvent, reviewer: string): EditResult => {
    announce();
    const { undo, redo } = undoStacks(store, reviewer);
    return {
      event,
      progress: progressOf(store),
      undoCount: undo.length,
      redoCount: redo.length,
      ...rowsOfEvent(view(), event),
    };
  };
  return {
    edit: ({ body: { edit, ...by } }) => resultOf(applyEdit(store, edit, by), by.reviewer),
    undo: ({ body }) => resultOf(undoEdit(store, body), body.reviewer),
    redo: ({ body }) => resultOf(redoEdit(store, body), body.reviewer),
  };
}

function calibrators({
  view,
  fitting,
}: HandlerContext): Some<
  'calibrations' | 'calibration' | 'preview' | 'saveCalibration' | 'estimate' | 'map'
> {
  const { store } = view().study;
  return {
    calibrations: () => savedCalibrations(store),
    calibration: ({ params }) => {
      const found = calibrationNamed(store, params.id) ?? refuse(`calibration ${params.id}`);
      return { ...found.saved, record: found.record };
    },
    preview: ({ body, signal }) => previewCalibration(view(), fitting, body, signal),
    saveCalibration: ({ body }) => saveNamedCalibration(view(), fitting, body),
    map: ({ query, signal }) => mapOf(view(), fitting, query, signal),
    estimate: ({ params, query }) => estimateOf(view(), params.id, query.level, query.calibration),
  };
}

function refuse(what: string): never {
  throw notFound(what);
}

function channelOf({ study }: StudyView, id: number, channel: number): StoredRecording {
  const recording = recordingById(study.store, id) ?? refuse(`recording ${id}`);
  if (channel > recording.channelCount) refuse(`channel ${channel} in recording ${id}`);
  return recording;
}

function insideOf({ durationS }: StoredRecording, from: number): void {
  if (from < durationS) return;
  throw new Refusal(400, 'bad request', `query.from: before the recording's end at ${durationS} s`);
}
