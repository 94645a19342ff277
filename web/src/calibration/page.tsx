import { type ComponentType, useEffect, useMemo, useState } from 'react';
import { curves } from '../../../src/calibration/curves/registry.ts';
import type { CalibrationPreview } from '../../../src/server/api.ts';
import { counted } from '../../../src/study/counted.ts';
import { referenceTreatments } from '../../../src/study/reference-treatment.ts';
import type { Dance } from '../../../src/study/study-schemas.ts';
import { isWatched } from '../../../src/study/watched.ts';
import { readEstimate, refreshStudy, wordsOf } from '../loading.ts';
import { service } from '../service.ts';
import { now, put, say, useStore } from '../store.ts';
import { timeText } from '../time-text.ts';
import type { FiguresProps } from './figures.tsx';

const CURVES = ['auto', ...curves.map(({ name }) => name)];

type Fit =
  | { readonly kind: 'none' }
  | { readonly kind: 'fitting'; readonly last: CalibrationPreview | null }
  | { readonly kind: 'trouble'; readonly text: string }
  | { readonly kind: 'known'; readonly preview: CalibrationPreview };

/** What draws the fit, once it has been read; it is large, and all else on the page goes without it. */
interface Drawing {
  readonly Figures: ComponentType<FiguresProps> | null;
  readonly trouble: string | null;
}

/** The colony's curve from dances to known feeders: which serve, what comes of them, and saving it by name. */
export default function CalibrationPage() {
  const { dances, trouble } = useAllDances();
  // What was ticked in or out by hand; else a dance serves when somebody has tied it to its feeder and its bee was
  // not under a treatment that is to be compared.
  const [chosen, setChosen] = useState<ReadonlyMap<string, boolean>>(new Map());
  const [curve, setCurve] = useState('auto');
  const [runs, setRuns] = useState<'inner' | 'all'>('inner');
  const able = useMemo(() => (dances ?? []).filter((one) => one.feederDistanceM !== null), [dances]);
  const ticked = useMemo(() => {
    const reference = referenceTreatments(able.map(({ treatment }) => treatment));
    const serves = (one: Dance) => chosen.get(one.id) ?? (isWatched(one) && reference.has(one.treatment));
    return able.filter(serves).map(({ id }) => id);
  }, [able, chosen]);
  const left = useMemo(() => {
    const serving = new Set(ticked);
    return new Set(able.map(({ id }) => id).filter((id) => !serving.has(id)));
  }, [able, ticked]);
  const { fit, drawing } = useFit(ticked, curve, runs);
  const preview = fit.kind === 'known' ? fit.preview : fit.kind === 'fitting' ? fit.last : null;
  const flip = (ids: readonly string[], out: boolean) => {
    setChosen(new Map([...chosen, ...ids.map((id): [string, boolean] => [id, !out])]));
  };
  return (
    <main className="calibration">
      <h1 className="unseen">Calibration</h1>
      <section className="serving" aria-label="Dances that serve">
        <Choices curve={curve} setCurve={setCurve} runs={runs} setRuns={setRuns} />
        {trouble !== null ? (
          <p className="resting" role="alert">
            The dances could not be read: {trouble}
          </p>
        ) : dances === null ? (
          <p className="resting" role="status">
            Reading the dances …
          </p>
        ) : able.length === 0 ? (
          <p className="resting">
            No dance has a feeder at a known distance yet. Give dances a feeder on the review page, or list
            when each was open in openings.csv.
          </p>
        ) : (
          <DanceTable able={able} left={left} flip={flip} preview={preview} />
        )}
      </section>
      <section className="fit" aria-label="Curve" aria-busy={isBusy(fit, drawing)}>
        {dances === null ? (
          trouble === null && <p className="resting">The curve is fitted once the dances are read.</p>
        ) : (
          <FitWords fit={fit} preview={preview} />
        )}
        {preview !== null && (
          <FitDrawing
            drawing={drawing}
            preview={preview}
            onPick={(id) => flip([id], !left.has(id))}
            stale={fit.kind !== 'known'}
          />
        )}
        <Saving ticked={ticked} curve={curve} runs={runs} ready={fit.kind === 'known'} />
      </section>
    </main>
  );
}

const isBusy = (fit: Fit, { Figures, trouble }: Drawing) =>
  fit.kind === 'fitting' || (fit.kind === 'known' && Figures === null && trouble === null);

function FitDrawing({ drawing, ...props }: FiguresProps & { readonly drawing: Drawing }) {
  const { Figures, trouble } = drawing;
  if (Figures !== null) return <Figures {...props} />;
  return trouble === null ? (
    <p className="resting" role="status">
      Drawing the curve …
    </p>
  ) : (
    <p className="resting" role="alert">
      The curve could not be drawn: {trouble}
    </p>
  );
}

function useAllDances() {
  const [dances, setDances] = useState<readonly Dance[] | null>(null);
  const [trouble, setTrouble] = useState<string | null>(null);
  const lastEdit = useStore((state) => state.dances);
  useEffect(() => {
    service.dances().then(setDances, (error: unknown) => setTrouble(wordsOf(error)));
  }, [lastEdit]);
  return { dances, trouble };
}

/** The fit of what is ticked, shortly after the last tick; one that is out of date is given up. */
function useFit(
  danceIds: readonly string[],
  curve: string,
  runs: 'inner' | 'all',
): { readonly fit: Fit; readonly drawing: Drawing } {
  const [fit, setFit] = useState<Fit>({ kind: 'none' });
  const [drawing, setDrawing] = useState<Drawing>({ Figures: null, trouble: null });
  useEffect(() => {
    if (danceIds.length === 0) {
      setFit({ kind: 'none' });
      return;
    }
    const moving = new AbortController();
    setFit((was) => ({
      kind: 'fitting',
      last: was.kind === 'known' ? was.preview : was.kind === 'fitting' ? was.last : null,
    }));
    const timer = setTimeout(() => {
      service.preview({ danceIds: [...danceIds], curve, runs, level: 0.95 }, moving.signal).then(
        (preview) => setFit({ kind: 'known', preview }),
        (error: unknown) => {
          if (!moving.signal.aborted) setFit({ kind: 'trouble', text: wordsOf(error) });
        },
      );
      // Asked for after the fit: while the figure library is read the page stands still, but the service goes on.
      import('./figures.tsx').then(
        ({ CalibrationFigures }) => setDrawing({ Figures: CalibrationFigures, trouble: null }),
        (error: unknown) => setDrawing({ Figures: null, trouble: wordsOf(error) }),
      );
    }, 150);
    return () => {
      clearTimeout(timer);
      moving.abort();
    };
  }, [danceIds, curve, runs]);
  return { fit, drawing };
}

interface ChoicesProps {
  readonly curve: string;
  readonly setCurve: (curve: string) => void;
  readonly runs: 'inner' | 'all';
  readonly setRuns: (runs: 'inner' | 'all') => void;
}

function Choices({ curve, setCurve, runs, setRuns }: ChoicesProps) {
  return (
    <div className="choices">
      <h2>Dances that serve</h2>
      <label>
        Curve
        <select value={curve} onChange={(event) => setCurve(event.target.value)}>
          {CURVES.map((name) => (
            <option key={name} value={name}>
              {name === 'auto' ? 'best of all' : name.replace('-', ' ')}
            </option>
          ))}
        </select>
      </label>
      <label>
        Runs
        <select value={runs} onChange={(event) => setRuns(event.target.value as 'inner' | 'all')}>
          <option value="inner">without first and last</option>
          <option value="all">all</option>
        </select>
      </label>
    </div>
  );
}

interface TableProps {
  readonly able: readonly Dance[];
  readonly left: ReadonlySet<string>;
  readonly flip: (ids: readonly string[], out: boolean) => void;
  readonly preview: CalibrationPreview | null;
}

function DanceTable({ able, left, flip, preview }: TableProps) {
  const residuals = new Map(preview?.points.map(({ danceId, residualS }) => [danceId, residualS]));
  const ids = able.map(({ id }) => id);
  const treated = able.some(({ treatment }) => treatment !== null);
  return (
    // biome-ignore lint/a11y/noNoninteractiveTabindex: what scrolls must be reachable by keyboard
    <section className="table" tabIndex={0} aria-label="Table of dances">
      <table>
        <thead>
          <tr>
            <th>
              <input
                type="checkbox"
                aria-label="All dances"
                checked={left.size === 0}
                onChange={(event) => flip(ids, !event.target.checked)}
              />
            </th>
            <th>Dance</th>
            <th>Bee</th>
            <th>Feeder</th>
            {treated && <th>Treatment</th>}
            <th className="figure">m</th>
            <th className="figure">used runs</th>
            <th className="figure">mean run s</th>
            <th className="figure">residual s</th>
          </tr>
        </thead>
        <tbody>
          {able.map((dance) => (
            <tr key={dance.id} className={left.has(dance.id) ? 'out' : undefined}>
              <td>
                <input
                  type="checkbox"
                  aria-label={`Dance at ${whenOf(dance)} serves`}
                  checked={!left.has(dance.id)}
                  onChange={(event) => flip([dance.id], !event.target.checked)}
                />
              </td>
              <td title={dance.id}>{whenOf(dance)}</td>
              <td>{dance.beeId ?? '–'}</td>
              <td>{dance.feederId}</td>
              {treated && <td>{dance.treatment ?? '–'}</td>}
              <td className="figure">{Math.round(dance.feederDistanceM!)}</td>
              <td className="figure">{dance.usedRuns}</td>
              <td className="figure">{dance.meanDurationS?.toFixed(3) ?? '–'}</td>
              <td className="figure">{signed(residuals.get(dance.id))}</td>
            </tr>
          ))}
        </tbody>
      </table>
    </section>
  );
}

/** `06-14 09:00:54` by the clock at the hive; time into the recording where the clock is not known. */
const whenOf = ({ startTime, startS }: Dance) =>
  startTime === null ? timeText(startS, 0) : startTime.slice(5, 19).replace('T', ' ');

const signed = (value: number | undefined) =>
  value === undefined ? '–' : `${value < 0 ? '−' : '+'}${Math.abs(value).toFixed(3)}`;

function FitWords({ fit, preview }: { readonly fit: Fit; readonly preview: CalibrationPreview | null }) {
  if (fit.kind === 'none') return <p className="resting">Tick dances to see the curve they make.</p>;
  if (fit.kind === 'trouble') {
    return (
      <p className="resting" role="alert">
        No curve from these dances: {fit.text}.
      </p>
    );
  }
  return (
    <div className="fit-words" aria-live="polite">
      {preview === null ? (
        <p className="resting">Fitting the curve; with many dances this takes some seconds …</p>
      ) : (
        <>
          <p>
            <b>{preview.curve.replace('-', ' ')}</b> <code>{preview.formula}</code>
            {fit.kind === 'fitting' && <span className="quiet"> fitting anew …</span>}
          </p>
          <p className="parameters">
            {preview.parameters.map(({ name, unit, value, standardError }) => (
              <span key={name}>
                {name} {Number(value.toPrecision(4))} ± {Number(standardError.toPrecision(2))} {unit}
              </span>
            ))}
          </p>
          {[
            ...preview.warnings,
            ...preview.leftOut.map(({ danceId, reason }) => `${danceId}: ${reason}`),
          ].map((words) => (
            <p key={words} className="warn">
              ⚠ {words}
            </p>
          ))}
        </>
      )}
    </div>
  );
}

interface SavingProps {
  readonly ticked: readonly string[];
  readonly curve: string;
  readonly runs: 'inner' | 'all';
  readonly ready: boolean;
}

function Saving({ ticked, curve, runs, ready }: SavingProps) {
  const study = useStore((state) => state.study)!;
  const [name, setName] = useState('');
  const save = async () => {
    const { reviewer } = now();
    if (reviewer === '')
      return say('note', 'Give your name first (top right): a calibration is kept with who made it.');
    try {
      await service.saveCalibration({
        danceIds: [...ticked],
        curve,
        runs,
        level: 0.95,
        name: name.trim(),
        reviewer,
      });
      put({ estimate: { kind: 'none' } });
      await refreshStudy();
      await readEstimate();
      say('note', `Saved as “${name.trim()}”; distances are estimated by it from now on.`);
      setName('');
    } catch (error) {
      say('trouble', `Not saved: ${wordsOf(error)}`);
    }
  };
  return (
    <form
      className="saving"
      onSubmit={(event) => {
        event.preventDefault();
        void save();
      }}
    >
      <label>
        Name
        <input
          value={name}
          maxLength={120}
          disabled={study.readOnly}
          placeholder="such as: June, east comb"
          onChange={(event) => setName(event.target.value)}
        />
      </label>
      <button type="submit" disabled={!ready || name.trim() === '' || study.readOnly}>
        Save calibration of {counted(ticked.length, 'dance')}
      </button>
      <span className="quiet">
        {study.calibrations.length === 0
          ? 'none saved yet'
          : `saved: ${study.calibrations.map((saved) => saved.name).join(', ')}`}
      </span>
    </form>
  );
}
