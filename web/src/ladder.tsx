import { Fragment } from 'react';
import type { DanceInHand, Run } from '../../src/server/api.ts';
import type { DancePart, Sound, WholeDanceRow } from '../../src/study/study-schemas.ts';
import { EstimateLine } from './estimate.tsx';
import { goToDance, goToRun, showDance } from './loading.ts';
import { useChannelCount, useStore } from './store.ts';
import { axisStep, secondsText, timeText } from './time-text.ts';

/**
 * One dance as rungs: left-aligned, as long as the run lasts, so that one that does not fit its dance is seen at
 * once. The mean of the used runs is a line over all.
 */
export function Ladder() {
  const danceId = useStore((state) => state.danceId);
  const inHand = useStore((state) => state.dance);
  return (
    <section className="ladder" aria-labelledby="ladder-name">
      <div className="ladder-top">
        <h2 id="ladder-name">Run ladder</h2>
        <DanceChoice />
      </div>
      {danceId === null ? (
        <p className="resting">
          No dance in hand. Take a run of a dance in hand, or press Page Down for the next dance. Own dance
          (Shift+D) makes one of a lone run.
        </p>
      ) : inHand === null ? (
        <p className="resting">Reading the dance …</p>
      ) : (
        <>
          <EstimateLine />
          {inHand.dance.parts.length > 0 && <Parts inHand={inHand} danceId={danceId} />}
          <Rungs inHand={inHand} />
          <Figures inHand={inHand} />
        </>
      )}
    </section>
  );
}

const LISTED = 60;

function DanceChoice() {
  const dances = useStore((state) => state.dances);
  const danceId = useStore((state) => state.danceId);
  const recordingId = useStore((state) => state.recordingId);
  const wholes = useStore((state) => state.wholes);
  const channels = useChannelCount();
  const list = [...dances.values()]
    .filter((one) => one.recordingId === recordingId)
    .sort((a, b) => a.startS - b.startS);
  // A day may hold thousands: those around the one in hand are enough to choose from.
  const at = Math.max(
    0,
    list.findIndex(({ id }) => id === danceId),
  );
  const near = list.slice(Math.max(0, at - LISTED), at + LISTED);
  return (
    <select
      aria-label="Dance"
      value={danceId ?? ''}
      onChange={(event) => {
        const id = event.target.value === '' ? null : event.target.value;
        void (id === null ? showDance(null) : goToDance(id));
      }}
    >
      <option value="">no dance</option>
      {danceId !== null && !dances.has(danceId) && <option value={danceId}>{danceId}</option>}
      {near.map((part) => {
        const { id, startS, channel } = part;
        const { runCount, beeId, parts } = wholes.get(id) ?? { ...part, parts: [] };
        return (
          <option key={id} value={id}>
            {timeText(startS, 0)} · {runCount} {runCount === 1 ? 'run' : 'runs'}
            {beeId === null ? '' : ` · ${beeId}`}
            {channels > 1 ? ` · ch ${channel}` : ''}
            {wordsAcross(parts, id)}
          </option>
        );
      })}
    </select>
  );
}

/** Where a dance goes on, and from where, seen from one of its parts. */
function wordsAcross(parts: WholeDanceRow['parts'], id: string): string {
  const at = parts.findIndex((part) => part.id === id);
  const before = at > 0 ? parts[at - 1] : undefined;
  const after = at < 0 ? undefined : parts[at + 1];
  return [
    before === undefined ? '' : ` · goes on from ${before.recording}`,
    after === undefined ? '' : ` · goes on in ${after.recording}`,
  ].join('');
}

interface PartsProps {
  readonly inHand: DanceInHand;
  readonly danceId: string;
}

/** The recordings that the dance lies in, to go from one into the next. */
function Parts({ inHand: { dance, runs }, danceId }: PartsProps) {
  const { parts } = dance;
  const at = parts.findIndex(({ id }) => id === danceId);
  const go = (part: DancePart) => {
    const run = runs.find(({ danceId: of, status }) => of === part.id && status !== 'rejected');
    if (run !== undefined) goToRun(run);
  };
  const others = [
    [parts[at - 1], 'goes on from'],
    [parts[at + 1], 'goes on in'],
  ] as const;
  return (
    <p className="parts">
      One dance of {(dance.endS - dance.startS).toFixed(1)} s in {parts.length} recordings:{' '}
      {others.map(
        ([part, words]) =>
          part !== undefined && (
            <button key={part.id} type="button" onClick={() => go(part)}>
              {words} {part.recording}
            </button>
          ),
      )}
    </p>
  );
}

/** Calls that begin after a run and before the next, which may lie in the next recording. */
function callsAfter(calls: readonly Sound[], run: Run, next: Run | undefined): readonly Sound[] {
  const inOne = next?.recordingId === run.recordingId;
  const after = ({ recordingId, startS }: Sound) => recordingId === run.recordingId && startS >= run.startS;
  const before = ({ recordingId, startS }: Sound) =>
    next === undefined || (recordingId === next.recordingId && startS < next.startS);
  return calls.filter(
    (call) =>
      call.kind === 'begging' &&
      call.status !== 'rejected' &&
      (inOne || next === undefined ? after(call) && before(call) : after(call) || before(call)),
  );
}

function Rungs({ inHand: { dance, runs, calls } }: { readonly inHand: DanceInHand }) {
  const longestS = Math.max(0.2, ...runs.map(({ durationS }) => durationS));
  const fullS = longestS * 1.05;
  const step = axisStep(fullS, 4, [0.05, 0.1, 0.2, 0.25, 0.5, 1, 2, 5, 10]);
  const ticks = Array.from({ length: Math.floor(fullS / step) + 1 }, (_, index) => index * step);
  const percent = (valueS: number) => `${(100 * valueS) / fullS}%`;
  const { meanDurationS: meanS, sdDurationS: sdS } = dance;
  return (
    <div className="rungs">
      {/* biome-ignore lint/a11y/noNoninteractiveTabindex: what scrolls must be reachable by keyboard */}
      <section className="rung-field" id="ladder" tabIndex={0} aria-label="Runs of the dance">
        <div className="rung-all">
          <div className="rung-lines" aria-hidden="true">
            {meanS !== null && sdS !== null && (
              <i
                className="spread"
                style={{ left: percent(Math.max(0, meanS - sdS)), width: percent(2 * sdS) }}
              />
            )}
          </div>
          <ol>
            {runs.map((run, index) => (
              <Fragment key={run.id}>
                <Rung run={run} number={index + 1} width={percent(run.durationS)} />
                <Between calls={callsAfter(calls, run, runs[index + 1])} />
                {runs[index + 1] !== undefined && runs[index + 1]!.danceId !== run.danceId && (
                  <li className="seam">
                    {dance.parts.find(({ id }) => id === runs[index + 1]!.danceId)?.recording}
                  </li>
                )}
              </Fragment>
            ))}
          </ol>
          <div className="rung-lines over-rungs" aria-hidden="true">
            {meanS !== null && <i className="mean" style={{ left: percent(meanS) }} />}
          </div>
        </div>
      </section>
      <div className="rung-axis" aria-hidden="true">
        {ticks.map((tick) => (
          <span key={tick} style={{ left: percent(tick) }}>
            {Number(tick.toFixed(2))}
            {tick === 0 ? ' s' : ''}
          </span>
        ))}
      </div>
    </div>
  );
}

interface RungProps {
  readonly run: Run;
  readonly number: number;
  readonly width: string;
}

function Rung({ run, number, width }: RungProps) {
  const chosen = useStore((state) => state.selected.includes(run.id));
  const several = useStore((state) => state.several);
  const notes = [
    run.status === 'rejected' ? 'rejected' : run.used ? '' : 'not used for the mean',
    run.odd ? 'odd for this dance' : '',
    run.status === 'found' ? 'not reviewed' : '',
  ].filter((note) => note !== '');
  const words = `Run ${number}: ${run.durationS.toFixed(3)} s${notes.length > 0 ? `, ${notes.join(', ')}` : ''}`;
  const classes = [
    'rung',
    run.status,
    run.used ? 'used' : 'spare',
    run.odd ? 'odd' : '',
    chosen ? 'chosen' : '',
  ];
  return (
    <li>
      <button
        type="button"
        className={classes.join(' ')}
        title={words}
        tabIndex={chosen || number === 1 ? 0 : -1}
        aria-pressed={chosen}
        onClick={(event) => goToRun(run, event.shiftKey || several)}
      >
        <span className="number">
          <span className="unseen">Run </span>
          {number}
        </span>
        <span className="track">
          <i style={{ width }} />
        </span>
        <b>
          {run.odd ? '◆ ' : ''}
          {run.status === 'rejected' ? '× ' : ''}
          {run.durationS.toFixed(2)}
          <span className="unseen"> s{notes.length > 0 ? `, ${notes.join(', ')}` : ''}</span>
        </b>
      </button>
    </li>
  );
}

function Between({ calls }: { readonly calls: readonly Sound[] }) {
  if (calls.length === 0) return <li className="between" aria-hidden="true" />;
  const words = `${calls.length} begging ${calls.length === 1 ? 'call' : 'calls'}`;
  return (
    <li className="between" title={words}>
      <span className="unseen">{words}</span>
      {calls.map(({ id }) => (
        <i key={id} />
      ))}
    </li>
  );
}

function Figures({ inHand: { dance, runs } }: { readonly inHand: DanceInHand }) {
  const odd = runs.filter((run) => run.odd).length;
  const figures: [string, string][] = [
    ['mean', secondsText(dance.meanDurationS)],
    ['SD', secondsText(dance.sdDurationS)],
    ['used', `${dance.usedRuns} of ${dance.runCount}`],
    ['tempo', dance.circuitsPer15s === null ? '–' : `${dance.circuitsPer15s.toFixed(2)} per 15 s`],
    ['return', secondsText(dance.meanReturnS, 2)],
    ['odd', odd === 0 ? 'none' : `◆ ${odd}`],
  ];
  return (
    <dl className="figures">
      {figures.map(([name, value]) => (
        <div key={name}>
          <dt>{name}</dt>
          <dd>{value}</dd>
        </div>
      ))}
    </dl>
  );
}
