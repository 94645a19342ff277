import type { RecordingSummary, StreamMessage } from '../../src/server/api.ts';
import { counted } from '../../src/study/counted.ts';
import { afterChange, isOwnEvent } from './editing.ts';
import {
  openStudyPage,
  readDances,
  readHistory,
  readQueue,
  readRibbon,
  readSounds,
  refreshStudy,
  showDance,
} from './loading.ts';
import { withRows } from './rows.ts';
import { now, put, say } from './store.ts';

/** Takes in what other reviewers do, and corrections of the clock, as they are made. @returns what ends it */
export function followEdits(): () => void {
  const source = new EventSource('/api/events');
  let lastEventId = now().study?.lastEventId ?? 0;
  let recordingsStamp = now().study?.recordingsStamp;
  const seeRecordings = (stamp: string) => {
    if (stamp !== recordingsStamp) void takeInRecordings();
    recordingsStamp = stamp;
  };
  source.onopen = () => put({ connected: true });
  source.onerror = () => put({ connected: false });
  source.onmessage = ({ data }) => {
    const message = JSON.parse(data as string) as StreamMessage;
    if (message.type === 'hello') {
      // Written while this page was not listening.
      if (message.lastEventId > lastEventId) readAllAnew();
      lastEventId = message.lastEventId;
    }
    if (message.type === 'hello' || message.type === 'recordings') {
      seeRecordings(message.recordingsStamp);
      return;
    }
    lastEventId = message.event.id;
    put({ progress: message.progress });
    if (message.type === 'reload') readAllAnew();
    else takeIn(message);
  };
  return () => source.close();
}

function takeIn(message: Extract<StreamMessage, { type: 'edit' }>): void {
  const { reviewer, selected, danceId } = now();
  const sameName = message.event.reviewer === reviewer;
  // This page's own edits come with their answers.
  if (isOwnEvent(message.event.id) || (sameName && now().unsaved > 0)) return;
  put(withRows(now(), message));
  afterChange(message);
  if (sameName) {
    // The same reviewer in another window.
    void readHistory();
    return;
  }
  const inHand = message.event.targets.some((id) => selected.includes(id) || id === danceId);
  if (inHand)
    say('note', `${message.event.reviewer} has just changed what you have in hand; their version is shown.`);
}

function readAllAnew(): void {
  if (now().recordingId === 0) return;
  void readQueue();
  readClockAnew();
}

/** All that carries times of day; the reviewer's place, and the queue as it stands, are kept. */
function readClockAnew(): void {
  const { danceId } = now();
  void readSounds(true);
  void readDances();
  void readRibbon();
  if (danceId !== null) void showDance(danceId);
}

/** Recordings were added to the study, or begin at another time than was known. */
async function takeInRecordings(): Promise<void> {
  const startWas = new Map(now().study?.recordings.map(({ id, startTime }) => [id, startTime]));
  const study = await refreshStudy();
  if (study === null) return;
  if (now().recordingId === 0) {
    await openStudyPage();
    return;
  }
  const corrected = study.recordings.filter(
    ({ id, startTime }) => startWas.has(id) && startWas.get(id) !== startTime,
  );
  if (corrected.length === 0) return;
  readClockAnew();
  say('note', correctedWords(corrected));
}

function correctedWords([first, ...others]: readonly RecordingSummary[]): string {
  const { path, startTime } = first!;
  const start = startTime === null ? 'an unknown time' : startTime.slice(0, 19).replace('T', ' ');
  const more = others.length === 0 ? '' : `, and ${counted(others.length, 'other recording')} anew too`;
  return `${path.split('/').at(-1)} now begins at ${start}${more}: times are shown by the corrected clock.`;
}
