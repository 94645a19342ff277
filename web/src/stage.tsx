import { useEffect, useRef, useState } from 'react';
import { Lanes } from './lanes.tsx';
import { moveTo, placeInHand } from './loading.ts';
import { stopPlayback, watchPlayback } from './player.ts';
import { drawFrequencyAxis, drawSpectrogram } from './spectrogram-picture.ts';
import { now, put, useLook, useStore } from './store.ts';
import { useTile } from './tiles.ts';
import { axisLabels, timeText } from './time-text.ts';
import { useSize } from './use-size.ts';

/** The window in hand: its spectrogram, the time axis, and the lanes under it. */
export function Stage() {
  const [guideS, setGuideS] = useState<number | null>(null);
  return (
    <section className="stage" aria-label="Spectrogram and lanes">
      <Spectrogram guideS={guideS} />
      <TimeAxis />
      <Lanes onGuide={setGuideS} />
    </section>
  );
}

function Spectrogram({ guideS }: { readonly guideS: number | null }) {
  const canvas = useRef<HTMLCanvasElement>(null);
  const axis = useRef<HTMLCanvasElement>(null);
  const size = useSize(canvas);
  const axisSize = useSize(axis);
  const view = usePictureView();
  const place = placeInHand();
  const placed = useStore((state) => state.placed);
  const columns = placed ? Math.min(2000, Math.round(size.width / 20) * 20) : 0;
  const { tile, ready, trouble } = useTile(place, columns, view.highHz);
  useEffect(() => {
    if (canvas.current === null || size.width === 0) return;
    drawSpectrogram(canvas.current, tile, { ...view, ...size });
    if (ready && tile !== null) canvas.current.dataset.drawn = `${view.fromS}`;
  }, [tile, ready, size, ...Object.values(view)]);
  useEffect(() => {
    if (axis.current !== null && axisSize.height > 0) drawFrequencyAxis(axis.current, axisSize, view.highHz);
  }, [axisSize, view.highHz, view.look]);
  usePanning(canvas);
  return (
    <div className="picture">
      <div className="axis" aria-hidden="true">
        <canvas ref={axis} />
      </div>
      <div className="field">
        <canvas
          ref={canvas}
          className="spectrogram"
          role="img"
          aria-label={`Spectrogram from ${timeText(view.fromS)} to ${timeText(view.toS)}, 0 to ${view.highHz} Hz`}
        />
        <Marks guideS={guideS} />
        {!ready && tile === null && <p className="over">Drawing the spectrogram …</p>}
        {trouble !== null && (
          <p className="over" role="alert">
            This window cannot be shown: {trouble}
          </p>
        )}
      </div>
    </div>
  );
}

function usePictureView() {
  const fromS = useStore((state) => state.fromS);
  const spanS = useStore((state) => state.spanS);
  const highHz = useStore((state) => state.highHz);
  const levelDb = useStore((state) => state.levelDb);
  const contrastDb = useStore((state) => state.contrastDb);
  const bandLines = useStore((state) => state.bandLines);
  const band = useStore((state) => state.study)!.settings.band;
  const look = useLook();
  useStore((state) => state.recordingId);
  useStore((state) => state.channel);
  const bandHz = bandLines ? [band.lowHz, band.highHz] : NO_BAND;
  return { fromS, toS: fromS + spanS, highHz, levelDb, contrastDb, bandHz, bandLines, look };
}

const NO_BAND: readonly number[] = [];

/** Lines over the picture: cursor, mark, ends of what is in hand, an end being dragged. */
function Marks({ guideS }: { readonly guideS: number | null }) {
  const fromS = useStore((state) => state.fromS);
  const spanS = useStore((state) => state.spanS);
  const cursorS = useStore((state) => state.cursorS);
  const markS = useStore((state) => state.markS);
  const selected = useStore((state) => state.selected);
  const sounds = useStore((state) => state.sounds);
  const [playS, setPlayS] = useState<number | null>(null);
  useEffect(() => watchPlayback(setPlayS), []);
  const ends = selected.flatMap((id) => {
    const sound = sounds.get(id);
    return sound === undefined ? [] : [sound.startS, sound.endS];
  });
  const lines: [string, number][] = [
    ...ends.map((timeS): [string, number] => ['end', timeS]),
    ...(markS === null ? [] : [['pin', markS] as [string, number]]),
    ...(guideS === null ? [] : [['guide', guideS] as [string, number]]),
    [playS === null ? 'cursor' : 'cursor moving', playS ?? cursorS],
  ];
  return (
    <>
      {lines.map(([kind, timeS], index) => {
        const share = (timeS - fromS) / spanS;
        if (share < 0 || share > 1) return null;
        return (
          <span key={`${kind} ${index}`} className={`mark ${kind}`} style={{ left: `${100 * share}%` }}>
            {kind === 'guide' && <b>{timeText(timeS, 3)}</b>}
          </span>
        );
      })}
    </>
  );
}

/** Click sets the cursor, drag moves the window, the wheel moves on or (with Ctrl) goes closer. */
function usePanning(canvas: React.RefObject<HTMLCanvasElement | null>): void {
  useEffect(() => {
    const field = canvas.current!;
    let start: { readonly x: number; readonly fromS: number; moved: boolean } | null = null;
    const perPx = () => now().spanS / field.clientWidth;
    const timeAt = (clientX: number) =>
      now().fromS + (clientX - field.getBoundingClientRect().left) * perPx();
    const down = (event: PointerEvent) => {
      field.setPointerCapture(event.pointerId);
      start = { x: event.clientX, fromS: now().fromS, moved: false };
    };
    const move = (event: PointerEvent) => {
      if (start === null) return;
      if (Math.abs(event.clientX - start.x) > 4) start.moved = true;
      if (!start.moved) return;
      stopPlayback();
      moveTo(start.fromS - (event.clientX - start.x) * perPx());
    };
    const up = (event: PointerEvent) => {
      if (start?.moved === false) {
        stopPlayback();
        put({ cursorS: timeAt(event.clientX) });
      }
      start = null;
    };
    const wheel = (event: WheelEvent) => {
      event.preventDefault();
      stopPlayback();
      const { fromS, spanS } = now();
      const by = Math.abs(event.deltaX) > Math.abs(event.deltaY) ? event.deltaX : event.deltaY;
      if (!event.ctrlKey) return moveTo(fromS + by * perPx());
      const at = timeAt(event.clientX);
      const span = Math.min(60, Math.max(1, spanS * 1.002 ** by));
      moveTo(at - ((at - fromS) / spanS) * span, span);
    };
    field.addEventListener('pointerdown', down);
    field.addEventListener('pointermove', move);
    field.addEventListener('pointerup', up);
    field.addEventListener('wheel', wheel, { passive: false });
    return () => {
      field.removeEventListener('pointerdown', down);
      field.removeEventListener('pointermove', move);
      field.removeEventListener('pointerup', up);
      field.removeEventListener('wheel', wheel);
    };
  }, [canvas]);
}

function TimeAxis() {
  const fromS = useStore((state) => state.fromS);
  const spanS = useStore((state) => state.spanS);
  const axis = useRef<HTMLDivElement>(null);
  const { width } = useSize(axis);
  return (
    <div ref={axis} className="time-axis" aria-hidden="true">
      {axisLabels(fromS, spanS, width).map(({ timeS, words }) => (
        <span key={timeS} style={{ left: `${(100 * (timeS - fromS)) / spanS}%` }}>
          {words}
        </span>
      ))}
    </div>
  );
}
