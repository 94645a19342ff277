import { type PointerEvent as ReactPointer, useEffect, useRef, useState } from 'react';
import type { WindowSound } from '../../src/study/study-schemas.ts';
import { addSound, KIND_NAMES, STATUS_NAMES, setBounds } from './judging.ts';
import { type Beside, inRows, kindShare, namesBeside, type Placed } from './lane-layout.ts';
import { LaneLegend } from './lane-legend.tsx';
import { readSounds, select } from './loading.ts';
import { now, put, useLook, useReadOnly, useStore } from './store.ts';
import { timeText } from './time-text.ts';
import { colourOf, sharpContext, useSize } from './use-size.ts';

interface Guided {
  /** A time being dragged, to be shown over the picture too; null when done. */
  readonly onGuide: (timeS: number | null) => void;
}

const MOST_ROWS = 3;

export function Lanes({ onGuide }: Guided) {
  const fromS = useStore((state) => state.fromS);
  const spanS = useStore((state) => state.spanS);
  const sounds = useStore((state) => state.sounds);
  const known = useStore((state) => state.known);
  const trouble = useStore((state) => state.rowsTrouble);
  const seen = [...sounds.values()].filter((one) => one.endS >= fromS && one.startS <= fromS + spanS);
  const runs = seen.filter(({ kind }) => kind === 'train');
  const calls = seen.filter(({ kind }) => kind !== 'train');
  if (trouble !== null) {
    return (
      <p className="lane-trouble" role="alert">
        The sounds of this window could not be read: {trouble}{' '}
        <button type="button" onClick={() => void readSounds(true)}>
          Try again
        </button>
      </p>
    );
  }
  return (
    <div className="lanes">
      <PulseLane sounds={seen} />
      <Lane name="Runs" adds="train" sounds={runs} onGuide={onGuide} empty="No waggle run heard here" />
      <Lane
        name="Calls"
        adds="begging"
        sounds={calls}
        onGuide={onGuide}
        empty={known === null ? 'Reading …' : 'No call heard here'}
      />
      <LaneLegend sounds={seen} />
    </div>
  );
}

function PulseLane({ sounds }: { readonly sounds: readonly WindowSound[] }) {
  const fromS = useStore((state) => state.fromS);
  const spanS = useStore((state) => state.spanS);
  const look = useLook();
  const canvas = useRef<HTMLCanvasElement>(null);
  const size = useSize(canvas);
  useEffect(() => {
    if (canvas.current === null || size.width === 0) return;
    const context = sharpContext(canvas.current, size);
    context.clearRect(0, 0, size.width, size.height);
    const [run, call, quiet] = [colourOf('run'), colourOf('call'), colourOf('quiet')];
    for (const { pulseTimesS, kind, status } of sounds) {
      context.fillStyle = status === 'rejected' ? quiet : kind === 'train' ? run : call;
      for (const timeS of pulseTimesS) {
        context.fillRect(((timeS - fromS) / spanS) * size.width - 0.75, 2, 1.5, size.height - 4);
      }
    }
  }, [sounds, fromS, spanS, size, look]);
  const count = sounds.reduce((sum, { pulseTimesS }) => sum + pulseTimesS.length, 0);
  return (
    <div className="lane pulses">
      <span className="lane-name">Pulses</span>
      <div className="field">
        <canvas ref={canvas} role="img" aria-label={`${count} pulses in this window`} />
      </div>
    </div>
  );
}

interface LaneProps extends Guided {
  readonly name: string;
  readonly adds: 'train' | 'begging';
  readonly sounds: readonly WindowSound[];
  readonly empty: string;
}

interface Drag {
  /** The sound whose end is dragged; null for one being added. */
  readonly id: string | null;
  readonly anchorS: number;
  readonly timeS: number;
}

function Lane({ name, adds, sounds, empty, onGuide }: LaneProps) {
  const fromS = useStore((state) => state.fromS);
  const spanS = useStore((state) => state.spanS);
  const selected = useStore((state) => state.selected);
  const readOnly = useReadOnly();
  const field = useRef<HTMLDivElement>(null);
  const [drag, setDrag] = useState<Drag | null>(null);
  const { placed: all, rows } = inRows(sounds, spanS / 400);
  const shown = Math.min(MOST_ROWS, rows);
  const placed = all.map((one) => ({ ...one, row: Math.min(one.row, shown - 1) }));
  const { width } = useSize(field);
  const share = kindShare(width);
  const beside = adds === 'train' ? NO_NAMES : namesBeside(placed, { fromS, spanS }, share * spanS);
  const timeAt = (event: ReactPointer) => {
    const box = field.current!.getBoundingClientRect();
    return fromS + Math.min(1, Math.max(0, (event.clientX - box.left) / box.width)) * spanS;
  };
  const begin = (event: ReactPointer, id: string | null, anchorS: number, timeS: number) => {
    if (event.button !== 0 || readOnly) return;
    event.stopPropagation();
    field.current!.setPointerCapture(event.pointerId);
    setDrag({ id, anchorS, timeS });
  };
  const move = (event: ReactPointer) => {
    if (drag === null) return;
    setDrag({ ...drag, timeS: timeAt(event) });
    onGuide(timeAt(event));
  };
  const end = () => {
    if (drag === null) return;
    setDrag(null);
    onGuide(null);
    finish(drag, adds, (3 * spanS) / field.current!.clientWidth);
  };
  return (
    <div className="lane" style={{ '--rows': shown } as React.CSSProperties}>
      <span className="lane-name">{name}</span>
      <div
        ref={field}
        className="field bars"
        data-lane={adds}
        onPointerDown={(event) => begin(event, null, timeAt(event), timeAt(event))}
        onPointerMove={move}
        onPointerUp={end}
        onPointerCancel={() => {
          setDrag(null);
          onGuide(null);
        }}
      >
        {placed.length === 0 && drag === null && (
          <span className="lane-empty">
            {empty}
            {readOnly ? '' : ' — drag across to add one'}
          </span>
        )}
        {placed.map((one, index) => (
          <Bar
            key={one.sound.id}
            {...one}
            rows={shown}
            beside={beside.get(one.sound.id) ?? null}
            drag={drag?.id === one.sound.id ? drag : null}
            chosen={selected.includes(one.sound.id)}
            reachable={selected.includes(one.sound.id) || (index === 0 && selected.length === 0)}
            onGrab={begin}
          />
        ))}
        {drag !== null && drag.id === null && (
          <span
            className="bar adding"
            style={extent(
              Math.min(drag.anchorS, drag.timeS),
              Math.max(drag.anchorS, drag.timeS),
              fromS,
              spanS,
            )}
          />
        )}
      </div>
    </div>
  );
}

/** What a drag comes to when let go; one that hardly moved was a click. */
function finish(drag: Drag, adds: 'train' | 'begging', clickS: number): void {
  if (drag.id === null) {
    if (Math.abs(drag.timeS - drag.anchorS) > clickS) addSound(adds, drag.anchorS, drag.timeS);
    else put({ cursorS: drag.timeS, selected: [] });
    return;
  }
  const sound = now().sounds.get(drag.id);
  if (sound === undefined) return;
  const [startS, endS] = [Math.min(drag.anchorS, drag.timeS), Math.max(drag.anchorS, drag.timeS)];
  const same = Math.abs(startS - sound.startS) < 0.0005 && Math.abs(endS - sound.endS) < 0.0005;
  if (!same) setBounds(sound, startS, endS);
}

const extent = (startS: number, endS: number, fromS: number, spanS: number) => ({
  left: `${(100 * (startS - fromS)) / spanS}%`,
  width: `${(100 * (endS - startS)) / spanS}%`,
});

const SIGNS: Readonly<Record<string, string>> = { found: '', accepted: '✓', rejected: '×', added: '+' };
/** A lane of runs says what they are. */
const NO_NAMES: ReadonlyMap<string, Beside> = new Map();

interface BarProps extends Placed {
  readonly rows: number;
  /** Where the kind stands that the bar is too short for; null where it needs no place. */
  readonly beside: Beside | null;
  readonly drag: Drag | null;
  readonly chosen: boolean;
  readonly reachable: boolean;
  readonly onGrab: (event: ReactPointer, id: string | null, anchorS: number, timeS: number) => void;
}

function Bar({ sound, row, rows, beside, drag, chosen, reachable, onGrab }: BarProps) {
  const fromS = useStore((state) => state.fromS);
  const spanS = useStore((state) => state.spanS);
  const readOnly = useReadOnly();
  const several = useStore((state) => state.several);
  const inDance = useStore((state) => sound.danceId !== null && sound.danceId === state.danceId);
  const startS = drag === null ? sound.startS : Math.min(drag.anchorS, drag.timeS);
  const endS = drag === null ? sound.endS : Math.max(drag.anchorS, drag.timeS);
  // Marks that a narrow bar has no room for are in its name, and in how it is drawn.
  const share = (endS - startS) / spanS;
  const kind = sound.kind === 'train' ? 'train' : 'call';
  const words = `${KIND_NAMES[sound.kind]}, ${STATUS_NAMES[sound.status]}, from ${timeText(startS, 3)} for ${(
    endS - startS
  ).toFixed(3)} s${chosen ? ', in hand' : ''}`;
  const grab = (end: 'start' | 'end') => (event: ReactPointer) => {
    select(sound.id);
    onGrab(event, sound.id, end === 'start' ? sound.endS : sound.startS, end === 'start' ? startS : endS);
  };
  // On a narrow bar a finger would hit an end, which takes that one alone in hand.
  const grips = !readOnly && !several;
  const top = `calc(${(100 * row) / rows}% + 2px)`;
  return (
    <span
      className={`bar ${kind} ${sound.status}${chosen ? ' chosen' : ''}${inDance ? ' in-dance' : ''}`}
      style={{ ...extent(startS, endS, fromS, spanS), top, height: `calc(${100 / rows}% - 4px)` }}
      data-sound={sound.id}
    >
      <button
        type="button"
        tabIndex={reachable ? 0 : -1}
        aria-label={words}
        aria-pressed={chosen}
        title={words}
        onPointerDown={(event) => event.stopPropagation()}
        onClick={(event) => select(sound.id, sound, event.shiftKey || several)}
      >
        {share > 0.015 && SIGNS[sound.status]} {beside === null && kind === 'call' && sound.kind}
      </button>
      {beside !== null && (
        <span className={`kind-beside to-${beside.side}${beside.free ? '' : ' tight'}`} aria-hidden="true">
          {sound.kind}
        </span>
      )}
      {grips && <i className="grip first" onPointerDown={grab('start')} />}
      {grips && <i className="grip last" onPointerDown={grab('end')} />}
    </span>
  );
}
