import { moveTo } from './loading.ts';
import { replay, togglePlayback } from './player.ts';
import { put, useStore } from './store.ts';

const SPANS_S = [1, 2, 5, 10, 20, 30, 60];
const SPEEDS = [
  [1, '1×'],
  [0.5, '½×'],
  [0.25, '¼×'],
] as const;

/** How the window is seen and heard. */
export function Tools() {
  return (
    <section className="tools" aria-label="Window">
      <Listening />
      <Span />
      <Picture />
    </section>
  );
}

function Listening() {
  const playing = useStore((state) => state.playing);
  const filtered = useStore((state) => state.filtered);
  const speed = useStore((state) => state.speed);
  const band = useStore((state) => state.study)!.settings.band;
  return (
    <>
      <button type="button" className="play" title="Play or stop (Space)" onClick={togglePlayback}>
        {playing ? '■ Stop' : '▶ Play'}
      </button>
      <button
        type="button"
        aria-pressed={filtered}
        title="Hear the band alone (f)"
        onClick={() => {
          put({ filtered: !filtered });
          replay();
        }}
      >
        {band.lowHz}–{band.highHz} Hz
      </button>
      <fieldset className="joined">
        <legend className="unseen">Speed</legend>
        {SPEEDS.map(([value, name]) => (
          <button
            key={value}
            type="button"
            aria-pressed={speed === value}
            title="Speed (s)"
            onClick={() => {
              put({ speed: value });
              replay();
            }}
          >
            {name}
          </button>
        ))}
      </fieldset>
    </>
  );
}

function Span() {
  const spanS = useStore((state) => state.spanS);
  const fromS = useStore((state) => state.fromS);
  const around = (next: number) => {
    moveTo(fromS + (spanS - next) / 2, next);
  };
  const known = SPANS_S.includes(spanS);
  return (
    <select
      aria-label="Length of the window"
      value={spanS}
      title="Length of the window (+ and -)"
      onChange={(event) => around(Number(event.target.value))}
    >
      {!known && <option value={spanS}>{spanS.toFixed(1)} s wide</option>}
      {SPANS_S.map((span) => (
        <option key={span} value={span}>
          {span} s wide
        </option>
      ))}
    </select>
  );
}

function Picture() {
  const levelDb = useStore((state) => state.levelDb);
  const contrastDb = useStore((state) => state.contrastDb);
  const highHz = useStore((state) => state.highHz);
  const bandLines = useStore((state) => state.bandLines);
  return (
    <>
      <select
        aria-label="Highest frequency shown"
        value={highHz}
        onChange={(event) => put({ highHz: Number(event.target.value) })}
      >
        {[500, 1000, 2000, 4000].map((value) => (
          <option key={value} value={value}>
            to {value} Hz
          </option>
        ))}
      </select>
      <label>
        Level
        <input
          type="range"
          min={-10}
          max={25}
          value={levelDb}
          aria-valuetext={`dark up to ${levelDb} dB above the background`}
          onChange={(event) => put({ levelDb: Number(event.target.value) })}
        />
      </label>
      <label>
        Contrast
        <input
          type="range"
          min={-60}
          max={-10}
          value={-contrastDb}
          aria-valuetext={`${contrastDb} dB from dark to bright`}
          onChange={(event) => put({ contrastDb: -Number(event.target.value) })}
        />
      </label>
      <label>
        <input
          type="checkbox"
          checked={bandLines}
          onChange={(event) => put({ bandLines: event.target.checked })}
        />
        Band
      </label>
    </>
  );
}
