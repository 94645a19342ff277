import { z } from 'zod';
import * as api from './api.ts';

/** What goes in and comes out of each address: requests are checked by it, the OpenAPI document is made of it. */
export interface RouteShape {
  readonly method: 'GET' | 'POST';
  /** With `:name` for parameters. */
  readonly path: string;
  readonly summary: string;
  readonly params?: z.ZodType;
  readonly query?: z.ZodType;
  readonly body?: z.ZodType;
  /** Body of the answer 200; a text is the type of one that is not JSON. */
  readonly answer: z.ZodType | string;
  /** Further answers by status. */
  readonly others?: Readonly<Record<number, z.ZodType>>;
  /** Changes the study, so that read-only mode refuses it. */
  readonly writes?: boolean;
}

const recordingParams = z.object({ id: z.coerce.number().int().min(1) });
const nameParams = z.object({ id: z.string() });
const conflicts = { 409: z.union([api.conflictSchema, api.errorSchema]) };

const route = <const R extends RouteShape>(shape: R): R => shape;

export const routes = {
  study: route({
    method: 'GET',
    path: '/api/study',
    summary: 'Settings, feeders, openings, recordings, calibrations and progress',
    answer: api.studySchema,
  }),
  recordings: route({
    method: 'GET',
    path: '/api/recordings',
    summary: 'Recordings of the study',
    answer: z.array(api.recordingSchema),
  }),
  ribbon: route({
    method: 'GET',
    path: '/api/recordings/:id/ribbon',
    summary: 'Activity, detections and reviewed share by minute',
    params: recordingParams,
    query: api.ribbonQuerySchema,
    answer: api.ribbonSchema,
  }),
  window: route({
    method: 'GET',
    path: '/api/recordings/:id/window',
    summary: 'Trains, calls, pulses and dances between two times',
    params: recordingParams,
    query: api.windowQuerySchema,
    answer: api.windowSchema,
  }),
  spectrogram: route({
    method: 'GET',
    path: '/api/recordings/:id/spectrogram',
    summary: 'Spectrogram tile of a window; the header is described in docs/http-api.md',
    params: recordingParams,
    query: api.spectrogramQuerySchema,
    answer: 'application/octet-stream',
  }),
  audio: route({
    method: 'GET',
    path: '/api/recordings/:id/audio',
    summary: 'One channel of a window as a WAVE file',
    params: recordingParams,
    query: api.audioQuerySchema,
    answer: 'audio/wav',
  }),
  queue: route({
    method: 'GET',
    path: '/api/queue',
    summary: 'Sounds to be looked at, least certain first or by time',
    query: api.queueQuerySchema,
    answer: api.queueSchema,
  }),
  dances: route({
    method: 'GET',
    path: '/api/dances',
    summary: 'Dances that have a run left, those that go on across recordings as one',
    query: api.dancesQuerySchema,
    answer: z.array(api.wholeDanceSchema),
  }),
  dance: route({
    method: 'GET',
    path: '/api/dances/:id',
    summary: 'One whole dance with its runs, and the calls near it',
    params: nameParams,
    answer: api.danceInHandSchema,
  }),
  estimate: route({
    method: 'GET',
    path: '/api/dances/:id/estimate',
    summary: 'Distance of a dance by a saved calibration',
    params: nameParams,
    query: api.estimateQuerySchema,
    answer: api.danceEstimateSchema,
  }),
  edit: route({
    method: 'POST',
    path: '/api/edits',
    summary: 'Do an edit',
    body: api.editRequestSchema,
    answer: api.editResultSchema,
    others: conflicts,
    writes: true,
  }),
  undo: route({
    method: 'POST',
    path: '/api/undo',
    summary: "Take back the reviewer's last edit",
    body: api.undoRequestSchema,
    answer: api.editResultSchema,
    others: conflicts,
    writes: true,
  }),
  redo: route({
    method: 'POST',
    path: '/api/redo',
    summary: 'Do again what was last taken back',
    body: api.undoRequestSchema,
    answer: api.editResultSchema,
    others: conflicts,
    writes: true,
  }),
  history: route({
    method: 'GET',
    path: '/api/history',
    summary: 'Events, newest first',
    query: api.historyQuerySchema,
    answer: api.historySchema,
  }),
  state: route({
    method: 'GET',
    path: '/api/history/:id/state',
    summary: 'All rows as they were after an event',
    params: z.object({ id: z.coerce.number().int().min(0) }),
    query: api.dancesQuerySchema,
    answer: api.stateSchema,
  }),
  calibrations: route({
    method: 'GET',
    path: '/api/calibrations',
    summary: 'Saved calibrations, newest first',
    answer: z.array(api.calibrationSummarySchema),
  }),
  calibration: route({
    method: 'GET',
    path: '/api/calibrations/:id',
    summary: 'A saved calibration by name, with its record (calibration.json)',
    params: nameParams,
    answer: api.calibrationDetailSchema,
  }),
  preview: route({
    method: 'POST',
    path: '/api/calibrations/preview',
    summary: 'Curve, bands and residuals of dances, without saving',
    body: api.calibrationRequestSchema,
    answer: api.calibrationPreviewSchema,
    others: { 422: api.errorSchema },
  }),
  saveCalibration: route({
    method: 'POST',
    path: '/api/calibrations',
    summary: 'Calibrate and save under a name',
    body: api.saveCalibrationSchema,
    answer: api.calibrationSummarySchema,
    others: { 422: api.errorSchema },
    writes: true,
  }),
  map: route({
    method: 'GET',
    path: '/api/map',
    summary: 'Where the dances lead: regions of 50, 80 and 95 %, in metres around the hive',
    query: api.mapQuerySchema,
    answer: api.mapSchema,
    others: { 422: api.errorSchema },
  }),
  events: route({
    method: 'GET',
    path: '/api/events',
    summary: 'Server-sent events; each data is one message of the schema Stream',
    answer: 'text/event-stream',
  }),
} as const;

export type RouteName = keyof typeof routes;
type Parsed<T> = T extends z.ZodType ? z.output<T> : undefined;
type Part<N extends RouteName, K extends 'params' | 'query' | 'body'> =
  (typeof routes)[N] extends Readonly<Record<K, infer T>> ? Parsed<T> : undefined;

/** A checked request. */
export interface Asked<N extends RouteName> {
  readonly params: Part<N, 'params'>;
  readonly query: Part<N, 'query'>;
  readonly body: Part<N, 'body'>;
  /** Aborted when the client has gone. */
  readonly signal: AbortSignal;
}
