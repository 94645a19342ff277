import { useEffect, useRef } from 'react';
import type { Sound } from '../../src/study/study-schemas.ts';
import { emptyQueueText } from './empty-queue.ts';
import { inHand } from './in-hand.ts';
import { addSound, assign, changeKind, join, judge, KIND_NAMES, STATUS_NAMES, split } from './judging.ts';
import { readQueue, select } from './loading.ts';
import { canBeOwnDance } from './own-dance.ts';
import { isJudged } from './rows.ts';
import { keep, now, put, type QueueOrder, useChannelCount, useReadOnly, useStore } from './store.ts';
import { timeText } from './time-text.ts';

/** What to look at next, as a shelf of cards; and what may be done with what is in hand. */
export function QueueShelf() {
  const queue = useStore((state) => state.queue);
  const trouble = useStore((state) => state.queueTrouble);
  const selected = useStore((state) => state.selected);
  const shelf = useRef<HTMLOListElement>(null);
  const [first] = selected;
  const { sounds, reviewed } = useStore((state) => state.progress);
  useEffect(() => {
    if (first === undefined) return;
    const card = shelf.current?.querySelector<HTMLElement>(`[data-card="${CSS.escape(first)}"]`);
    if (card !== null && card !== undefined && shelf.current !== null) {
      shelf.current.scrollLeft = card.offsetLeft - shelf.current.clientWidth / 3;
    }
  }, [first]);
  return (
    <section className="queue" aria-label="Queue">
      <div className="queue-top">
        <h2>Queue</h2>
        <QueueChoices />
        <Deeds />
      </div>
      {trouble !== null ? (
        <p className="resting" role="alert">
          The queue could not be read: {trouble}{' '}
          <button type="button" onClick={() => void readQueue()}>
            Try again
          </button>
        </p>
      ) : queue === null ? (
        <p className="resting">Reading the queue …</p>
      ) : queue.items.length === 0 ? (
        <p className="resting">{emptyQueueText(queue.all, sounds - reviewed)}</p>
      ) : (
        <ol ref={shelf}>
          {queue.items.map((sound) => (
            <Card key={sound.id} sound={sound} chosen={selected.includes(sound.id)} />
          ))}
        </ol>
      )}
    </section>
  );
}

function QueueChoices() {
  const order = useStore((state) => state.queueOrder);
  const all = useStore((state) => state.queueAll);
  const queue = useStore((state) => state.queue);
  const choose = (next: QueueOrder) => {
    keep('order', next);
    put({ queueOrder: next });
    void readQueue();
  };
  return (
    <>
      <select
        aria-label="Order of the queue"
        value={order}
        onChange={(event) => choose(event.target.value as QueueOrder)}
      >
        <option value="confidence">most doubtful first</option>
        <option value="time">by time</option>
      </select>
      <select
        aria-label="What is in the queue"
        value={all ? 'all' : 'unreviewed'}
        onChange={(event) => {
          put({ queueAll: event.target.value === 'all' });
          void readQueue();
        }}
      >
        <option value="unreviewed">not reviewed</option>
        <option value="all">all</option>
      </select>
      <span
        className="quiet queue-count"
        title="In this recording; the count at the top is of the whole study"
      >
        {queue !== null && `${queue.total} ${queue.all ? 'in all' : 'left'}`}
      </span>
    </>
  );
}

/** The same deeds as the keys, for hands on a mouse or a tablet. */
function Deeds() {
  const some = useStore((state) => state.selected.length > 0);
  const readOnly = useReadOnly();
  const danceId = useStore((state) => state.danceId);
  const markS = useStore((state) => state.markS);
  const deeds: [string, string, () => void][] = [
    ['Accept', 'y', () => judge('accept')],
    ['Reject', 'x', () => judge('reject')],
    ['Kind', 'k', () => changeKind(1)],
    ['Split', 'v', split],
    ['Join', 'j', join],
    ['To dance', 'd', () => assign(danceId === null ? 'new' : 'ladder')],
  ];
  return (
    <span className="deeds">
      {markS !== null && !readOnly && (
        <button type="button" onClick={() => addSound('train', markS, now().cursorS)}>
          Add run
        </button>
      )}
      {deeds.map(([name, key, run]) => (
        <button key={name} type="button" disabled={!some || readOnly} onClick={run}>
          {name} <kbd>{key}</kbd>
        </button>
      ))}
      <OwnDance />
      <Several />
    </span>
  );
}

/** Divides a dance: the runs in hand become one of their own. */
function OwnDance() {
  const selected = useStore((state) => state.selected);
  const sounds = useStore((state) => state.sounds);
  const dance = useStore((state) => state.dance);
  const held = useStore((state) => state.held);
  const dances = useStore((state) => state.dances);
  const wholes = useStore((state) => state.wholes);
  const readOnly = useReadOnly();
  const some = inHand({ selected, sounds, dance, held });
  const sensible = canBeOwnDance(some, (id) => (wholes.get(id) ?? dances.get(id))?.runCount);
  return (
    <button
      type="button"
      title="Make it a dance of its own (Shift+D)"
      disabled={!sensible || readOnly}
      onClick={() => assign('new')}
    >
      Own dance <kbd>⇧D</kbd>
    </button>
  );
}

/** What Shift is for a hand on a mouse: a finger has none. */
function Several() {
  const several = useStore((state) => state.several);
  const readOnly = useReadOnly();
  return (
    <button
      type="button"
      className="several"
      title="Each tap takes one more in hand, or lets it go (Shift and a click)"
      aria-pressed={several}
      disabled={readOnly}
      onClick={() => put({ several: !several })}
    >
      Several
    </button>
  );
}

function Card({ sound, chosen }: { readonly sound: Sound; readonly chosen: boolean }) {
  const { kind, startS, endS, confidence, status } = sound;
  const channels = useChannelCount();
  const several = useStore((state) => state.several);
  return (
    <li data-card={sound.id}>
      <button
        type="button"
        tabIndex={chosen ? 0 : -1}
        className={`card ${status}${chosen ? ' chosen' : ''}`}
        aria-current={chosen ? 'true' : undefined}
        onClick={(event) => {
          put({ along: 'queue' });
          select(sound.id, sound, event.shiftKey || several);
        }}
      >
        <span className="card-time">{timeText(startS)}</span>
        <span className={kind === 'train' ? 'kind run' : 'kind call'}>{KIND_NAMES[kind]}</span>
        <span>
          {(endS - startS).toFixed(2)} s{channels > 1 && ` · ch ${sound.channel}`}
        </span>
        <span className="sure">
          {isJudged(sound)
            ? STATUS_NAMES[status]
            : confidence === null
              ? 'no confidence'
              : `confidence ${confidence.toFixed(2)}`}
        </span>
      </button>
    </li>
  );
}
