import { useEffect, useRef } from 'react';
import { durationS, moveTo } from './loading.ts';
import { stopPlayback } from './player.ts';
import { drawRibbon } from './ribbon-picture.ts';
import { now, useLook, useStore } from './store.ts';
import { clockText, timeText } from './time-text.ts';
import { useSize } from './use-size.ts';

/** The whole recording as dance activity by minute; a press or drag moves the window there. */
export function Ribbon() {
  const ribbon = useStore((state) => state.ribbon);
  const fromS = useStore((state) => state.fromS);
  const spanS = useStore((state) => state.spanS);
  const look = useLook();
  const canvas = useRef<HTMLCanvasElement>(null);
  const { width, height } = useSize(canvas);
  useEffect(() => {
    if (canvas.current !== null && ribbon !== null && width > 0) {
      drawRibbon(canvas.current, ribbon, { fromS, spanS, width, height });
    }
  }, [ribbon, fromS, spanS, width, height, look]);
  const whole = durationS();
  const go = (clientX: number) => {
    const box = canvas.current!.getBoundingClientRect();
    const share = Math.min(1, Math.max(0, (clientX - box.left) / box.width));
    stopPlayback();
    moveTo(share * whole - now().spanS / 2);
  };
  const clock = clockText(ribbon?.startTime ?? null, fromS);
  return (
    <section className="ribbon" aria-label="Day ribbon">
      <div className="ribbon-names" aria-hidden="true">
        <span>Calls</span>
        <span>Runs</span>
        <span>Reviewed</span>
      </div>
      <canvas
        ref={canvas}
        tabIndex={0}
        role="slider"
        aria-label="Place in the recording"
        aria-valuemin={0}
        aria-valuemax={Math.round(whole)}
        aria-valuenow={Math.round(fromS)}
        aria-valuetext={`${timeText(fromS)}${clock === null ? '' : `, clock time ${clock}`}`}
        onPointerDown={(event) => {
          event.currentTarget.setPointerCapture(event.pointerId);
          go(event.clientX);
        }}
        onPointerMove={(event) => event.buttons === 1 && go(event.clientX)}
        onKeyDown={(event) => {
          const stepS = event.key === 'ArrowRight' ? 60 : event.key === 'ArrowLeft' ? -60 : 0;
          if (stepS !== 0) moveTo(now().fromS + stepS);
          if (event.key === 'Home') moveTo(0);
          if (event.key === 'End') moveTo(whole);
        }}
      />
      {ribbon === null && <p className="resting">Reading the day …</p>}
    </section>
  );
}
