import type { ServerResponse } from 'node:http';
import { changeOf, eventsAfter, lastEventId } from '../study/store/events.ts';
import { progressOf } from '../study/store/queries.ts';
import { recordingsStamp } from '../study/store/recordings.ts';
import { storeFault } from '../study/store/store-fault.ts';
import type { ReviewEvent } from '../study/study-schemas.ts';
import { rowsInView, type StudyView } from '../study/study-view.ts';
import type { StreamMessage } from './api.ts';

/** Server-sent events (WHATWG HTML, 9.2): each edit goes to every page that is open. */
export interface Stream {
  /** @param lastSeen event id that a page coming back has already had */
  readonly join: (response: ServerResponse, lastSeen: number | null) => void;
  /** Sends what has happened since the last time. */
  readonly announce: () => void;
  readonly close: () => void;
}

/** How often it is asked whether another process has written, ms. */
const LOOK_MS = 300;
const HEARTBEAT_MS = 15_000;
/** Rows beyond which a page had better ask anew, and events likewise. */
const MOST_ROWS = 300;
const MOST_EVENTS = 200;
/** Bytes that wait for a page to read them. */
const MOST_UNREAD = 2 ** 20;

export function eventStream(view: () => StudyView): Stream {
  const { store } = view().study;
  const pages = new Set<ServerResponse>();
  let sent = lastEventId(store);
  let written = store.pragma('data_version', { simple: true });
  let recordings = recordingsStamp(store);

  const tell = () => {
    for (const event of eventsAfter(store, sent)) {
      if (pages.size > 0) {
        const text = frame(messageOf(view(), event), event.id);
        for (const page of pages) send(page, text);
      }
      sent = event.id;
    }
  };
  const tellRecordings = () => {
    const stamp = recordingsStamp(store);
    if (stamp === recordings) return;
    recordings = stamp;
    for (const page of pages) send(page, frame({ type: 'recordings', recordingsStamp: stamp }, sent));
  };
  let due = false;
  // The edit is done, whether or not it can be told now; what cannot is told at the next look.
  const announce = () => {
    due = !forgiving(tell);
  };
  const look = setInterval(() => {
    forgiving(() => {
      const now = store.pragma('data_version', { simple: true });
      if (now === written && !due) return;
      written = now;
      announce();
      if (!forgiving(tellRecordings)) due = true;
    });
  }, LOOK_MS);
  const heartbeat = setInterval(() => {
    for (const page of pages) send(page, ': still here\n\n');
  }, HEARTBEAT_MS);
  look.unref();
  heartbeat.unref();

  const join = (response: ServerResponse, lastSeen: number | null) => {
    forgiving(tellRecordings);
    const hello = { type: 'hello', lastEventId: sent, recordingsStamp: recordings } as const;
    response.write(`retry: 1000\n${frame(hello, sent)}`);
    if (lastSeen !== null && lastSeen < sent) {
      for (const text of framesMissed(view(), lastSeen, sent)) response.write(text);
    }
    pages.add(response);
    response.on('close', () => pages.delete(response));
  };
  const close = () => {
    clearInterval(look);
    clearInterval(heartbeat);
    for (const page of pages) page.end();
    pages.clear();
  };
  return { join, announce, close };
}

/** What a page that comes back has not had. */
function framesMissed(view: StudyView, lastSeen: number, sent: number): string[] {
  const missed = eventsAfter(view.study.store, lastSeen).filter(({ id }) => id <= sent);
  const tooMany = missed.length > MOST_EVENTS;
  // Of many, the last alone, as a reason to ask anew.
  const told = tooMany ? missed.slice(-1) : missed;
  return told.map((event) => frame(messageOf(view, event, tooMany), event.id));
}

/** @returns false where a full disk or another process's lock kept the store from being read */
function forgiving(act: () => void): boolean {
  try {
    act();
    return true;
  } catch (error) {
    if (storeFault(error) === null) throw error;
    return false;
  }
}

/** To a page that reads; one that has long not is let go, and told what it missed when it comes back. */
function send(page: ServerResponse, text: string): void {
  if (page.writableLength > MOST_UNREAD) page.destroy();
  else page.write(text);
}

function frame(message: StreamMessage, id: number): string {
  return `id: ${id}\ndata: ${JSON.stringify(message)}\n\n`;
}

function messageOf(view: StudyView, event: ReviewEvent, tooMany = false): StreamMessage {
  const progress = progressOf(view.study.store);
  if (tooMany || event.kind === 'detect' || event.targets.length > MOST_ROWS) {
    return { type: 'reload', event, progress };
  }
  return { type: 'edit', event, progress, ...rowsOfEvent(view, event) };
}

/** The rows an event touched, as they now are, with the dances whose runs changed. */
export function rowsOfEvent(view: StudyView, event: ReviewEvent) {
  return rowsInView(view, ...idsOfEvent(view, event));
}

function idsOfEvent(view: StudyView, { id }: ReviewEvent): [string[], string[]] {
  const { before, after } = changeOf(view.study.store, id);
  const states = [before, after];
  const danceIds = states.flatMap(({ sounds, dances }) => [
    ...Object.keys(dances),
    ...Object.values(sounds).flatMap((sound) => sound?.danceId ?? []),
  ]);
  return [[...new Set(states.flatMap(({ sounds }) => Object.keys(sounds)))], [...new Set(danceIds)]];
}
