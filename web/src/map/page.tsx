import { useEffect, useState } from 'react';
import type { StudyMapView } from '../../../src/server/api.ts';
import { counted } from '../../../src/study/counted.ts';
import { wordsOf } from '../loading.ts';
import { type MapAsked, service } from '../service.ts';
import { useStore } from '../store.ts';
import { areaText } from './area-text.ts';
import { type Backdrop, BackdropError, backdropOf } from './backdrop.ts';

interface Known {
  readonly view: StudyMapView | null;
  readonly waiting: boolean;
  readonly trouble: string | null;
}

type Figure = typeof import('./figure.tsx')['MapFigure'];

const ALL: MapAsked = { day: '', bee: '', treatment: '', weight: 'dances' };

/** Where dances to places that are no feeder lead: regions of 50, 80 and 95 % around the hive. */
export default function MapPage() {
  const [asked, setAsked] = useState<MapAsked>(ALL);
  const { view, waiting, trouble, MapFigure } = useMapView(asked);
  const [backdrop, setBackdrop] = useState<Backdrop | null>(null);
  return (
    <main className="calibration map">
      <h1 className="unseen">Map</h1>
      <section className="serving" aria-label="Dances on the map">
        <Filters asked={asked} setAsked={setAsked} view={view} />
        <BackdropChoice hive={view?.hive ?? null} backdrop={backdrop} setBackdrop={setBackdrop} />
        {view !== null && <Summary view={view} />}
        {view !== null && view.dances.length > 0 && <Places view={view} />}
        {view !== null && <LeftOut view={view} />}
      </section>
      <section className="fit" aria-label="Map around the hive" aria-busy={waiting || MapFigure === null}>
        {trouble !== null ? (
          <p className="resting" role="alert">
            The map could not be drawn: {trouble}
          </p>
        ) : view === null ? (
          <p className="resting" role="status">
            Estimating every dance for the map; with many dances this takes some seconds …
          </p>
        ) : (
          <>
            {view.why !== null && <Empty view={view} filtered={isFiltered(asked)} />}
            {(view.why === null || view.feeders.length > 0 || backdrop !== null) &&
              (MapFigure === null ? (
                <p className="resting" role="status">
                  Drawing the map …
                </p>
              ) : (
                <MapFigure view={view} backdrop={backdrop} stale={waiting} />
              ))}
          </>
        )}
      </section>
    </main>
  );
}

const isFiltered = ({ day, bee, treatment }: MapAsked) => `${day}${bee}${treatment}` !== '';

/** The map of what is asked for; anew when a dance or a calibration has changed. */
function useMapView(asked: MapAsked): Known & { readonly MapFigure: Figure | null } {
  const [known, setKnown] = useState<Known>({ view: null, waiting: true, trouble: null });
  const [MapFigure, setFigure] = useState<Figure | null>(null);
  const [figureTrouble, setFigureTrouble] = useState<string | null>(null);
  const dances = useStore((state) => state.dances);
  const calibrations = useStore((state) => state.study)!.calibrations.length;
  useEffect(() => {
    const moving = new AbortController();
    setKnown((was) => ({ ...was, waiting: true }));
    const timer = setTimeout(() => {
      service.map(asked, moving.signal).then(
        (view) => setKnown({ view, waiting: false, trouble: null }),
        (error: unknown) => {
          if (!moving.signal.aborted) setKnown({ view: null, waiting: false, trouble: wordsOf(error) });
        },
      );
      // Asked for after the map: while the figure library is read the page stands still, but the service goes on.
      import('./figure.tsx').then(
        (figure) => setFigure(() => figure.MapFigure),
        (error: unknown) => setFigureTrouble(wordsOf(error)),
      );
    }, 60);
    return () => {
      clearTimeout(timer);
      moving.abort();
    };
  }, [asked, dances, calibrations]);
  return { ...known, trouble: known.trouble ?? figureTrouble, MapFigure };
}

interface FiltersProps {
  readonly asked: MapAsked;
  readonly setAsked: (asked: MapAsked) => void;
  readonly view: StudyMapView | null;
}

function Filters({ asked, setAsked, view }: FiltersProps) {
  const lists = [
    ['Day', 'day', view?.choices.days ?? [], 'every day'],
    ['Bee', 'bee', view?.choices.beeIds ?? [], 'every bee'],
    ['Treatment', 'treatment', view?.choices.treatments ?? [], 'as the curve’s'],
  ] as const;
  return (
    <div className="choices">
      <h2>Dances on the map</h2>
      {lists.map(([name, key, values, all]) => (
        <label key={key}>
          {name}
          <select value={asked[key]} onChange={(event) => setAsked({ ...asked, [key]: event.target.value })}>
            <option value="">{all}</option>
            {[...new Set(asked[key] === '' ? values : [...values, asked[key]])].map((value) => (
              <option key={value} value={value}>
                {value}
              </option>
            ))}
          </select>
        </label>
      ))}
      <label>
        Count
        <select
          value={asked.weight}
          onChange={(event) => setAsked({ ...asked, weight: event.target.value as MapAsked['weight'] })}
        >
          <option value="dances">every dance once</option>
          <option value="runs">by its used runs</option>
        </select>
      </label>
    </div>
  );
}

interface BackdropProps {
  readonly hive: StudyMapView['hive'];
  readonly backdrop: Backdrop | null;
  readonly setBackdrop: (backdrop: Backdrop | null) => void;
}

/** The file is read by the page alone; it is sent nowhere. */
function BackdropChoice({ hive, backdrop, setBackdrop }: BackdropProps) {
  const [trouble, setTrouble] = useState<string | null>(null);
  const read = async (file: File) => {
    try {
      setBackdrop(backdropOf(file.name, await file.text(), hive!));
      setTrouble(null);
    } catch (error) {
      setTrouble(error instanceof BackdropError ? error.message : `${file.name}: could not be read`);
    }
  };
  return (
    <div className="choices backdrop">
      <label>
        Backdrop
        <input
          type="file"
          accept=".geojson,.json,application/geo+json"
          disabled={hive === null}
          aria-describedby="backdrop-words"
          onChange={(event) => {
            const [file] = event.target.files ?? [];
            if (file !== undefined) void read(file);
            // The same file may be chosen again once it has been mended.
            event.target.value = '';
          }}
        />
      </label>
      {backdrop !== null && (
        <button type="button" onClick={() => setBackdrop(null)}>
          Take it away
        </button>
      )}
      <span id="backdrop-words" className="quiet">
        {backdrop === null
          ? 'Your own GeoJSON: fields, roads, water. It stays on this machine.'
          : `${backdrop.name}: ${backdrop.count} positions`}
      </span>
      {trouble !== null && (
        <p className="warn" role="alert">
          ⚠ {trouble}
        </p>
      )}
    </div>
  );
}

function Summary({ view }: { readonly view: StudyMapView }) {
  const { regions, dances, weight, total, calibration } = view;
  if (regions.length === 0) return null;
  return (
    <div className="map-summary" aria-live="polite">
      <p>
        <b>{counted(dances.length, 'dance')}</b>
        {weight === 'runs' ? `, ${total} used runs` : ''}, distances by {calibration}. A region is where a
        dance leads with that probability, not a finding.
      </p>
      <p className="parameters">
        {regions.map(({ level, areaHa }) => (
          <span key={level}>
            {Math.round(100 * level)} % in {areaText(areaHa)}
          </span>
        ))}
      </p>
    </div>
  );
}

function Places({ view }: { readonly view: StudyMapView }) {
  return (
    // biome-ignore lint/a11y/noNoninteractiveTabindex: what scrolls must be reachable by keyboard
    <section className="table" tabIndex={0} aria-label="Table of mapped dances">
      <table>
        <thead>
          <tr>
            <th>Dance</th>
            <th>Bee</th>
            <th className="figure">m</th>
            <th className="figure">95 %, m</th>
            <th className="figure">bearing</th>
            <th className="figure">95 % in</th>
          </tr>
        </thead>
        <tbody>
          {view.dances.map((dance) => (
            <tr key={dance.danceId} title={dance.note ?? undefined}>
              <td>
                {dance.startTime === null ? dance.danceId : dance.startTime.slice(5, 16).replace('T', ' ')}
                {isCaution(dance.note) && ' ⚠'}
              </td>
              <td>{dance.beeId ?? '–'}</td>
              <td className="figure">{Math.round(dance.distanceM)}</td>
              <td className="figure">
                {dance.distanceLowM === null || dance.distanceHighM === null
                  ? '–'
                  : `${Math.round(dance.distanceLowM)}–${Math.round(dance.distanceHighM)}`}
              </td>
              <td className="figure">{Math.round(dance.bearingDeg)}°</td>
              <td className="figure">{dance.area95Ha === null ? '–' : areaText(dance.area95Ha)}</td>
            </tr>
          ))}
        </tbody>
      </table>
    </section>
  );
}

/** Whether a note says more than what the distance was told from. */
const isCaution = (note: string | null) =>
  note?.split('; ').some((part) => !part.startsWith('from ')) === true;

function LeftOut({ view: { leftOut } }: { readonly view: StudyMapView }) {
  if (leftOut.length === 0) return null;
  const reasons = new Map<string, number>();
  for (const { reason } of leftOut) reasons.set(reason, (reasons.get(reason) ?? 0) + 1);
  return (
    <div className="left-out">
      <h3>Not on the map</h3>
      <ul>
        {[...reasons].map(([reason, count]) => (
          <li key={reason}>
            {counted(count, 'dance')}: {reason}
          </li>
        ))}
      </ul>
    </div>
  );
}

/** Why there is nothing yet, and what to do. */
function Empty({ view, filtered }: { readonly view: StudyMapView; readonly filtered: boolean }) {
  const steps: readonly [boolean, string][] = [
    [view.hive !== null, 'the hive’s latitude and longitude in study.json'],
    [view.calibration !== null, 'a saved calibration (calibration page)'],
    [
      view.hive !== null && view.calibration !== null && (view.dances.length > 0 || filtered),
      'dances to places that are no feeder, each with a comb angle and a clock time (dance details)',
    ],
  ];
  return (
    <div className="resting map-empty" role="status">
      <h2>{filtered ? 'No dance of this choice can be mapped' : 'No map yet'}</h2>
      <p>{`${view.why!.charAt(0).toUpperCase()}${view.why!.slice(1)}.`}</p>
      <p>A map needs:</p>
      <ol>
        {steps.map(([done, words]) => (
          <li key={words}>
            <b aria-hidden="true">{done ? '✓' : '○'}</b>
            <span className="unseen">{done ? 'there: ' : 'wanting: '}</span> {words}
          </li>
        ))}
      </ol>
    </div>
  );
}
