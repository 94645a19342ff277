import type { StreamMessage } from '../../src/server/api.ts';
import { afterChange, isOwnEvent } from './editing.ts';
import { readDances, readHistory, readQueue, readRibbon, readSounds, showDance } from './loading.ts';
import { withRows } from './rows.ts';
import { now, put, say } from './store.ts';

/** Takes in what other reviewers do, as they do it. @returns what ends it */
export function followEdits(): () => void {
  const source = new EventSource('/api/events');
  let lastEventId = now().study?.lastEventId ?? 0;
  source.onopen = () => put({ connected: true });
  source.onerror = () => put({ connected: false });
  source.onmessage = ({ data }) => {
    const message = JSON.parse(data as string) as StreamMessage;
    if (message.type === 'hello') {
      // Written while this page was not listening.
      if (message.lastEventId > lastEventId) readAllAnew();
      lastEventId = message.lastEventId;
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
  const { danceId } = now();
  void readSounds(true);
  void readDances();
  void readQueue();
  void readRibbon();
  if (danceId !== null) void showDance(danceId);
}
