import { useStore } from './store.ts';

const metres = (value: number | null) => (value === null ? '–' : `${Math.round(value)}`);

/** Distance of the dance in hand, with its interval; anew after every edit. */
export function EstimateLine() {
  const estimate = useStore((state) => state.estimate);
  const feederM = useStore((state) => state.dance?.dance.feederDistanceM ?? null);
  return (
    <section className="estimate" aria-live="polite" aria-label="Distance estimate">
      {estimate.kind === 'known' ? (
        <Known value={estimate.value} feederM={feederM} />
      ) : estimate.kind === 'no-calibration' ? (
        <p>
          No distance yet: there is no calibration. <a href="#calibration">Make one</a> from dances whose
          feeder is known.
        </p>
      ) : estimate.kind === 'trouble' ? (
        <p>No distance: {estimate.text}.</p>
      ) : (
        <p className="quiet">Estimating the distance …</p>
      )}
    </section>
  );
}

type Value = Extract<ReturnType<typeof useEstimate>, { kind: 'known' }>['value'];
const useEstimate = () => useStore((state) => state.estimate);

function Known({ value, feederM }: { readonly value: Value; readonly feederM: number | null }) {
  const { estimate, calibration } = value;
  if (estimate.distance_m === null) return <p>No distance: {estimate.note ?? 'too few runs'}.</p>;
  return (
    <>
      <p className="distance">
        <strong data-estimate={Math.round(estimate.distance_m)}>{metres(estimate.distance_m)} m</strong>
        <span>
          {metres(estimate.distance_low_m)} to {metres(estimate.distance_high_m)} m with{' '}
          {Math.round(100 * estimate.level)} %
        </span>
      </p>
      <p className="quiet">
        by “{calibration}”{feederM === null ? '' : ` · feeder known at ${metres(feederM)} m`}
        {estimate.in_range === false ? ' · outside the calibrated distances' : ''}
      </p>
      {estimate.note !== null && <p className="quiet">{estimate.note}</p>}
    </>
  );
}
