import { takeBack } from './editing.ts';
import { addAtCursor, assign, changeKind, join, judge, nudge, split } from './judging.ts';
import { goToDance, moveTo, showDance } from './loading.ts';
import { dancesInOrder, stepQueue, stepTime } from './moving.ts';
import { replay, stopPlayback, togglePlayback } from './player.ts';
import { now, type PageName, put } from './store.ts';

export interface KeyDeed {
  /** As KeyboardEvent.key, with `Shift+`, `Ctrl+` or `Alt+` before it. */
  readonly keys: readonly string[];
  readonly shown: string;
  readonly does: string;
  readonly run: () => void;
}

export interface KeyGroup {
  readonly name: string;
  readonly deeds: readonly KeyDeed[];
}

const deed = (shown: string, does: string, run: () => void, ...keys: string[]): KeyDeed => ({
  keys: keys.length > 0 ? keys : [shown],
  shown,
  does,
  run,
});

const pan = (share: number) => {
  stopPlayback();
  moveTo(now().fromS + share * now().spanS);
};

const zoom = (factor: number) => {
  stopPlayback();
  const { fromS, spanS, cursorS } = now();
  const span = Math.min(60, Math.max(1, spanS * factor));
  moveTo(cursorS - ((cursorS - fromS) / spanS) * span, span);
};

/** Moves the cursor, and the window with it at its edges. */
const moveCursor = (byS: number) => {
  const { cursorS, fromS, spanS } = now();
  const at = Math.max(0, cursorS + byS);
  if (at < fromS || at > fromS + spanS) moveTo(at - spanS / 2);
  put({ cursorS: at });
};

/** To another dance; with what is in hand kept it only goes onto the ladder, to be assigned to. */
const stepDance = (step: 1 | -1, keep = false) => {
  const list = dancesInOrder();
  const at = list.findIndex(({ id }) => id === now().danceId);
  const next = list[at < 0 ? 0 : at + step];
  if (next !== undefined) void (keep ? showDance(next.id) : goToDance(next.id));
};

const setSpeed = () => {
  put({ speed: now().speed === 1 ? 0.5 : now().speed === 0.5 ? 0.25 : 1 });
  replay();
};

const focusOn = (id: string) => document.getElementById(id)?.focus();
/** To a page, or from it back to the review. */
const turnTo = (page: PageName) => {
  stopPlayback();
  location.hash = now().page === page ? 'review' : page;
};

/** Every key of the review page, as the help sheet lists them. */
export const KEY_GROUPS: readonly KeyGroup[] = [
  {
    name: 'Judge what is in hand',
    deeds: [
      deed('y', 'yes: accept it, on to the next to review', () => judge('accept')),
      deed('x', 'reject it, on to the next to review', () => judge('reject')),
      deed('k', 'next kind (run, begging call, piping …)', () => changeKind(1)),
      deed('Shift+K', 'kind before', () => changeKind(-1)),
      deed('v', 'split at the cursor, or in the widest gap', split),
      deed('j', 'join with the next of its kind', join),
      deed('d', 'assign to the dance on the ladder', () => assign('ladder')),
      deed('Shift+D', 'make it a dance of its own', () => assign('new')),
      deed('o', 'take it out of its dance', () => assign(null)),
    ],
  },
  {
    name: 'Correct and add',
    deeds: [
      deed('w', 'start 5 ms earlier', () => nudge('start', -0.005)),
      deed('e', 'start 5 ms later', () => nudge('start', 0.005)),
      deed('r', 'end 5 ms earlier', () => nudge('end', -0.005)),
      deed('t', 'end 5 ms later', () => nudge('end', 0.005)),
      deed('i', 'mark an end at the cursor; again: add a run', () => addAtCursor('train')),
      deed('Shift+I', 'the same for a begging call', () => addAtCursor('begging')),
      deed('u', 'undo', () => void takeBack('undo'), 'u', 'Ctrl+z'),
      deed('Shift+U', 'redo', () => void takeBack('redo'), 'Shift+U', 'Ctrl+Shift+Z', 'Ctrl+y'),
    ],
  },
  {
    name: 'Find the way',
    deeds: [
      deed('n', 'next of the queue', () => stepQueue(1)),
      deed('b', 'back in the queue', () => stepQueue(-1)),
      deed('.', 'next sound in time', () => stepTime(1)),
      deed(',', 'sound before', () => stepTime(-1)),
      deed('PgDn', 'next dance', () => stepDance(1), 'PageDown'),
      deed('PgUp', 'dance before', () => stepDance(-1), 'PageUp'),
      deed(
        'Shift+PgDn',
        'next dance onto the ladder, what is in hand stays',
        () => stepDance(1, true),
        'Shift+PageDown',
      ),
      deed('Shift+PgUp', 'the same for the dance before', () => stepDance(-1, true), 'Shift+PageUp'),
      deed('→', 'window on by a quarter', () => pan(0.25), 'ArrowRight'),
      deed('←', 'window back by a quarter', () => pan(-0.25), 'ArrowLeft'),
      deed('+', 'closer (down to 1 s)', () => zoom(0.5), '+', '='),
      deed('-', 'wider (up to 60 s)', () => zoom(2)),
      deed(
        'Shift+→',
        'cursor on by 1 % of the window',
        () => moveCursor(now().spanS / 100),
        'Shift+ArrowRight',
      ),
      deed('Shift+←', 'cursor back by 1 %', () => moveCursor(-now().spanS / 100), 'Shift+ArrowLeft'),
    ],
  },
  {
    name: 'Listen and turn pages',
    deeds: [
      deed('Space', 'play from the cursor, or stop', togglePlayback, ' '),
      deed('f', 'hear the band alone, or all', () => {
        put({ filtered: !now().filtered });
        replay();
      }),
      deed('s', 'full, half or quarter speed', setSpeed),
      deed('m', 'go to the dance details', () => focusOn('bee')),
      deed('g', 'go to the ladder', () => focusOn('ladder')),
      deed('c', 'calibration page, or back', () => turnTo('calibration')),
      deed('p', 'map page, or back', () => turnTo('map')),
      deed('?', 'this sheet', () => put({ help: !now().help })),
      deed('Escape', 'let go: mark, choice, field, sheet', letGo),
    ],
  },
];

function letGo(): void {
  if (now().help) put({ help: false });
  else if (now().markS !== null) put({ markS: null });
  else if (now().selected.length > 0 || now().several) put({ selected: [], several: false });
}

const deedsByKey = new Map(
  KEY_GROUPS.flatMap(({ deeds }) => deeds.flatMap((one) => one.keys.map((key) => [key, one] as const))),
);

const ON_OTHER_PAGES = new Set(['c', 'p', '?', 'Escape']);

/** The name a key press has in the table above. */
function nameOf(event: KeyboardEvent): string {
  const letter = /^[a-z]$/i.test(event.key);
  const named = event.key.length > 1;
  const shift = event.shiftKey && (letter || named) ? 'Shift+' : '';
  const key = letter ? (event.shiftKey ? event.key.toUpperCase() : event.key.toLowerCase()) : event.key;
  return `${event.ctrlKey || event.metaKey ? 'Ctrl+' : ''}${event.altKey ? 'Alt+' : ''}${shift}${key}`;
}

/** Keys act unless a field has them; Escape gives the keys back to the page. */
export function onKey(event: KeyboardEvent): void {
  const target =
    event.target instanceof HTMLElement || event.target instanceof SVGElement ? event.target : document.body;
  const name = nameOf(event);
  const inField = target.closest('input:not([type=checkbox]):not([type=range]), textarea, select') !== null;
  if (name === 'Escape' && inField) {
    target.blur();
    return;
  }
  const ownKeys = inField || target.closest('dialog') !== null;
  if (ownKeys && name !== 'Escape') return;
  // A focused button or slider keeps the keys that work it.
  const worked =
    target.closest('button, a, summary, [type=checkbox]') !== null && [' ', 'Enter'].includes(name);
  const turned =
    target.closest('[type=range], [role=slider], [role=tablist]') !== null && /Arrow|Page/.test(name);
  if (worked || turned) return;
  const found = deedsByKey.get(name);
  if (found === undefined || now().study === null) return;
  if (now().page !== 'review' && !ON_OTHER_PAGES.has(name)) return;
  event.preventDefault();
  found.run();
}
