import type {
  CalibrationPreview,
  CalibrationRequest,
  CalibrationSummary,
  Conflict,
  DanceEstimate,
  DanceInHand,
  EditRequest,
  EditResult,
  Queue,
  Ribbon,
  Study,
  StudyMapView,
  WindowRows,
} from '../../src/server/api.ts';
import { readSpectrogramTile, type SpectrogramTile } from '../../src/server/spectrogram-tile.ts';
import type { WholeDanceRow } from '../../src/study/study-schemas.ts';

/** What the service said when it did not do as it was asked. */
export class ServiceError extends Error {
  readonly status: number;
  readonly body: unknown;
  constructor(status: number, message: string, body: unknown) {
    super(message);
    this.status = status;
    this.body = body;
  }
}

async function answerOf(path: string, init: RequestInit): Promise<Response> {
  let response: Response;
  try {
    response = await fetch(path, init);
  } catch (error) {
    if ((error as Error).name === 'AbortError') throw error;
    throw new ServiceError(0, 'the service does not answer; it may have been stopped', null);
  }
  if (response.ok) return response;
  const body = (await response.json().catch(() => null)) as { message?: string } | null;
  const said = body?.message ?? `the service answered ${response.status}`;
  throw new ServiceError(response.status, said, body);
}

async function get<T>(path: string, signal?: AbortSignal): Promise<T> {
  return (await answerOf(path, { signal: signal ?? null })).json() as Promise<T>;
}

async function post<T>(path: string, body: unknown, signal?: AbortSignal): Promise<T> {
  const init = {
    method: 'POST',
    headers: { 'content-type': 'application/json' },
    body: JSON.stringify(body),
    signal: signal ?? null,
  };
  return (await answerOf(path, init)).json() as Promise<T>;
}

const query = (values: Readonly<Record<string, string | number>>) =>
  new URLSearchParams(Object.entries(values).map(([key, value]) => [key, String(value)])).toString();

/** Empty for all. */
export interface MapAsked {
  readonly day: string;
  readonly bee: string;
  readonly treatment: string;
  readonly weight: 'dances' | 'runs';
}

export interface Place {
  readonly recordingId: number;
  readonly channel: number;
  readonly fromS: number;
  readonly toS: number;
}

const spanOf = ({ fromS, toS, channel }: Place) => ({ from: fromS, to: toS, channel });

/** The service's addresses as functions; docs/http-api.md says what each gives. */
export const service = {
  study: () => get<Study>('/api/study'),
  ribbon: (recordingId: number, channel: number) =>
    get<Ribbon>(`/api/recordings/${recordingId}/ribbon?${query({ channel })}`),
  window: (place: Place, signal?: AbortSignal) =>
    get<WindowRows>(`/api/recordings/${place.recordingId}/window?${query(spanOf(place))}`, signal),
  spectrogram: async (place: Place, columns: number, highHz: number, signal: AbortSignal) => {
    const asked = query({ ...spanOf(place), columns, highHz });
    const path = `/api/recordings/${place.recordingId}/spectrogram?${asked}`;
    return readSpectrogramTile(await (await answerOf(path, { signal })).arrayBuffer());
  },
  audio: async (place: Place, signal: AbortSignal) => {
    const path = `/api/recordings/${place.recordingId}/audio?${query(spanOf(place))}`;
    return (await answerOf(path, { signal })).arrayBuffer();
  },
  queue: (recordingId: number, order: string, include: string, limit: number) =>
    get<Queue>(`/api/queue?${query({ recordingId, order, include, limit })}`),
  dances: (recordingId?: number) =>
    get<WholeDanceRow[]>(`/api/dances${recordingId === undefined ? '' : `?${query({ recordingId })}`}`),
  dance: (id: string) => get<DanceInHand>(`/api/dances/${encodeURIComponent(id)}`),
  estimate: (id: string, signal: AbortSignal) =>
    get<DanceEstimate>(`/api/dances/${encodeURIComponent(id)}/estimate`, signal),
  history: (reviewer: string) =>
    get<{ undoCount: number; redoCount: number }>(`/api/history?${query({ reviewer, limit: 1 })}`),
  edit: (request: EditRequest) => post<EditResult>('/api/edits', request),
  takeBack: (what: 'undo' | 'redo', reviewer: string, requestId: string) =>
    post<EditResult>(`/api/${what}`, { reviewer, requestId }),
  preview: (request: CalibrationRequest, signal: AbortSignal) =>
    post<CalibrationPreview>('/api/calibrations/preview', request, signal),
  map: (asked: MapAsked, signal: AbortSignal) => {
    const given = Object.fromEntries(Object.entries(asked).filter(([, value]) => value !== ''));
    return get<StudyMapView>(`/api/map?${query(given)}`, signal);
  },
  saveCalibration: (request: CalibrationRequest & { name: string; reviewer: string }) =>
    post<CalibrationSummary>('/api/calibrations', request),
};

/** Rows of a 409, or null for any other error. */
export function conflictOf(error: unknown): Conflict | null {
  if (!(error instanceof ServiceError) || error.status !== 409) return null;
  const body = error.body as Conflict | null;
  return body?.error === 'conflict' ? body : null;
}

export type { SpectrogramTile };
