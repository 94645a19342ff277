import { useSyncExternalStore } from 'react';
import type { DanceEstimate, DanceInHand, Queue, Ribbon, Study } from '../../src/server/api.ts';
import type { Dance, Progress, WholeDanceRow, WindowSound } from '../../src/study/study-schemas.ts';

export type QueueOrder = 'confidence' | 'time';
export type Theme = 'system' | 'light' | 'dark';

export type PageName = 'review' | 'calibration' | 'map';

/** The page that the address names. */
export function pageOfAddress(): PageName {
  const name = location.hash.slice(1);
  return name === 'calibration' || name === 'map' ? name : 'review';
}

export interface Notice {
  readonly id: number;
  readonly kind: 'note' | 'trouble' | 'elsewhere';
  readonly text: string;
}

/** Distance of the dance in hand. */
export type EstimateState =
  | { readonly kind: 'none' }
  | { readonly kind: 'no-calibration' }
  | { readonly kind: 'trouble'; readonly text: string }
  | { readonly kind: 'known'; readonly value: DanceEstimate };

export interface State {
  readonly page: PageName;
  readonly study: Study | null;
  readonly trouble: string | null;
  readonly connected: boolean;
  readonly recordingId: number;
  readonly channel: number;
  /** Whether it is known which window comes first. */
  readonly placed: boolean;
  /** The window in hand, s. */
  readonly fromS: number;
  readonly spanS: number;
  readonly cursorS: number;
  /** Other end of a stretch that is being marked by keyboard. */
  readonly markS: number | null;
  readonly sounds: ReadonlyMap<string, WindowSound>;
  /** Stretch whose sounds are known. */
  readonly known: { readonly fromS: number; readonly toS: number } | null;
  readonly rowsTrouble: string | null;
  readonly selected: readonly string[];
  /** What was in hand before the last was taken besides. */
  readonly held: readonly WindowSound[];
  /** Whether a tap takes a sound in hand beside those that are, as with Shift held. */
  readonly several: boolean;
  /** The way that the reviewer goes: a verdict goes on to the next on it. */
  readonly along: 'queue' | 'dance' | 'time';
  readonly dances: ReadonlyMap<string, Dance>;
  /** Of those that go on across recordings the whole dance, by the id of each part. */
  readonly wholes: ReadonlyMap<string, WholeDanceRow>;
  readonly danceId: string | null;
  readonly dance: DanceInHand | null;
  readonly estimate: EstimateState;
  readonly ribbon: Ribbon | null;
  /** With whether it holds all sounds, or those not reviewed: what is chosen may be under way still. */
  readonly queue: (Queue & { readonly all: boolean }) | null;
  readonly queueTrouble: string | null;
  readonly queueOrder: QueueOrder;
  readonly queueAll: boolean;
  readonly progress: Progress;
  readonly undoCount: number;
  readonly redoCount: number;
  readonly reviewer: string;
  readonly unsaved: number;
  readonly notices: readonly Notice[];
  readonly highHz: number;
  /** dB above the background of each frequency up to which all is dark. */
  readonly levelDb: number;
  /** dB from darkest to brightest. */
  readonly contrastDb: number;
  readonly bandLines: boolean;
  readonly filtered: boolean;
  readonly speed: number;
  readonly playing: boolean;
  readonly theme: Theme;
  /** Whether the system asks for dark. */
  readonly systemDark: boolean;
  readonly help: boolean;
}

const kept = (key: string): string | null => {
  try {
    return localStorage.getItem(`combtone-${key}`);
  } catch {
    return null;
  }
};

/** Keeps a setting of this browser; where storage is refused it lasts as long as the page. */
export function keep(key: string, value: string): void {
  try {
    localStorage.setItem(`combtone-${key}`, value);
  } catch {}
}

let state: State = {
  page: pageOfAddress(),
  study: null,
  trouble: null,
  connected: true,
  recordingId: 0,
  channel: 1,
  placed: false,
  fromS: 0,
  spanS: 10,
  cursorS: 0,
  markS: null,
  sounds: new Map(),
  known: null,
  rowsTrouble: null,
  selected: [],
  held: [],
  several: false,
  along: 'queue',
  dances: new Map(),
  wholes: new Map(),
  danceId: null,
  dance: null,
  estimate: { kind: 'none' },
  ribbon: null,
  queue: null,
  queueTrouble: null,
  queueOrder: kept('order') === 'time' ? 'time' : 'confidence',
  queueAll: false,
  progress: { sounds: 0, reviewed: 0, dances: 0 },
  undoCount: 0,
  redoCount: 0,
  reviewer: kept('reviewer') ?? '',
  unsaved: 0,
  notices: [],
  highHz: 1000,
  levelDb: 8,
  contrastDb: 24,
  bandLines: true,
  filtered: false,
  speed: 1,
  playing: false,
  theme: (kept('theme') as Theme | null) ?? 'system',
  systemDark: matchMedia('(prefers-color-scheme: dark)').matches,
  help: false,
};

const listeners = new Set<() => void>();

export function now(): State {
  return state;
}

/** Changes the state and draws what depends on it. */
export function put(change: Partial<State>): void {
  state = { ...state, ...change };
  for (const listener of listeners) listener();
}

export function subscribe(listener: () => void): () => void {
  listeners.add(listener);
  return () => listeners.delete(listener);
}

/** A part of the state; the pick must give the same object while nothing has changed. */
export function useStore<T>(pick: (state: State) => T): T {
  return useSyncExternalStore(subscribe, () => pick(state));
}

/** Changes whenever colours do: what is drawn on a canvas or by the figure library is drawn anew by it. */
export function useLook(): string {
  return useStore(({ theme, systemDark }) => (theme === 'system' ? `system ${systemDark}` : theme));
}

/** Whether the study is served for reading only. */
export function useReadOnly(): boolean {
  return useStore(({ study }) => study?.readOnly === true);
}

/** Channels of the recording in hand. */
export function useChannelCount(): number {
  return useStore(
    ({ study, recordingId }) => study?.recordings.find(({ id }) => id === recordingId)?.channelCount ?? 1,
  );
}

let noticeCount = 0;
const NOTICE_MS = 9000;

/** Says something at the foot of the page; all but troubles go by themselves. */
export function say(kind: Notice['kind'], text: string): void {
  const id = ++noticeCount;
  const others = state.notices.filter((notice) => notice.text !== text);
  put({ notices: [...others.slice(-3), { id, kind, text }] });
  if (kind === 'note') setTimeout(() => dismiss(id), NOTICE_MS);
}

export function dismiss(id: number): void {
  put({ notices: state.notices.filter((notice) => notice.id !== id) });
}

/** Puts away what was merely told: it was of the deed before. */
export function dismissNotes(): void {
  if (state.notices.every(({ kind }) => kind !== 'note')) return;
  put({ notices: state.notices.filter(({ kind }) => kind !== 'note') });
}
