import { useEffect, useId, useState } from 'react';
import type { Edit, WholeDanceRow } from '../../src/study/study-schemas.ts';
import { AngleDial } from './angle-dial.tsx';
import { doEdit } from './editing.ts';
import { say, useReadOnly, useStore } from './store.ts';

type Changes = Extract<Edit, { kind: 'dance' }>['changes'];

/** What is noted is changed in the parts of the dance where it is noted; what is new is noted of the first. */
function change({ parts, ...dance }: WholeDanceRow, changes: Changes): void {
  const [key] = Object.keys(changes) as (keyof Changes)[];
  const noted = parts.filter((part) =>
    key === 'feederId' ? part.feederSource === 'reviewer' : part[key!] !== null,
  );
  for (const { id, version } of noted.length > 0 ? noted : [parts[0] ?? dance])
    void doEdit({ kind: 'dance', target: { id, version }, changes });
}

/** What only an observer knows of the dance in hand. Each field is saved when it is left. */
export function DanceDetails() {
  const dance = useStore((state) => state.dance?.dance ?? null);
  const known = useStore((state) => state.study)!.known;
  const readOnly = useReadOnly();
  if (dance === null) return null;
  return (
    <fieldset className="details" aria-label="Dance details" disabled={readOnly}>
      <TextField id="bee" name="Bee" dance={dance} of="beeId" known={known.beeIds} />
      <TextField id="paint" name="Paint mark" dance={dance} of="paintMark" known={known.paintMarks} />
      <FeederField dance={dance} />
      <TextField id="treatment" name="Treatment" dance={dance} of="treatment" known={known.treatments} />
      <AngleField dance={dance} />
      <TextField id="note" name="Note" dance={dance} of="note" known={[]} wide />
    </fieldset>
  );
}

/** A draft that follows the row while nobody is typing in it. */
function useDraft(saved: string, key: string) {
  const [draft, setDraft] = useState(saved);
  useEffect(() => setDraft(saved), [saved, key]);
  return [draft, setDraft] as const;
}

interface TextProps {
  readonly id: string;
  readonly name: string;
  readonly dance: WholeDanceRow;
  readonly of: 'beeId' | 'paintMark' | 'treatment' | 'note';
  readonly known: readonly string[];
  readonly wide?: boolean;
}

function TextField({ id, name, dance, of, known, wide }: TextProps) {
  const saved = dance[of] ?? '';
  const [draft, setDraft] = useDraft(saved, dance.id);
  const list = useId();
  const save = () => {
    const value = draft.trim();
    if (value !== saved) change(dance, { [of]: value === '' ? null : value });
  };
  return (
    <label className={wide ? 'wide' : undefined}>
      {name}
      <input
        id={id}
        value={draft}
        list={known.length > 0 ? list : undefined}
        maxLength={of === 'note' ? 2000 : 200}
        autoComplete="off"
        onChange={(event) => setDraft(event.target.value)}
        onBlur={save}
        onKeyDown={(event) => event.key === 'Enter' && event.currentTarget.blur()}
      />
      {known.length > 0 && (
        <datalist id={list}>
          {known.map((value) => (
            <option key={value} value={value} />
          ))}
        </datalist>
      )}
    </label>
  );
}

const BY_OPENINGS = 'auto';
const NONE = '';

function FeederField({ dance }: { readonly dance: WholeDanceRow }) {
  const feeders = useStore((state) => state.study)!.feeders;
  const { feederId, feederSource, feederConflict } = dance;
  const value = feederSource === 'reviewer' ? (feederId ?? NONE) : BY_OPENINGS;
  const likely =
    feederId !== null && feederSource === 'opening' ? `by openings: ${feederId}` : 'by openings: none';
  return (
    <label className={feederConflict.length > 0 ? 'conflict' : undefined}>
      Feeder
      <select
        id="feeder"
        value={value}
        onChange={(event) => {
          const next = event.target.value;
          change(dance, { feederId: next === NONE ? null : next });
        }}
      >
        <option value={BY_OPENINGS}>
          {feederConflict.length > 0 ? `open at once: ${feederConflict.join(', ')}` : likely}
        </option>
        {feeders.map(({ feederId: id, distanceM }) => (
          <option key={id} value={id}>
            {id}
            {distanceM === null ? '' : ` · ${Math.round(distanceM)} m`}
          </option>
        ))}
        <option value={NONE}>none of the feeders</option>
      </select>
      {feederConflict.length > 0 && (
        <span className="warn">⚠ {feederConflict.length} feeders were open: choose</span>
      )}
    </label>
  );
}

function AngleField({ dance }: { readonly dance: WholeDanceRow }) {
  const readOnly = useReadOnly();
  const saved = dance.combAngleDeg === null ? '' : String(dance.combAngleDeg);
  const [draft, setDraft] = useDraft(saved, dance.id);
  const save = (words: string) => {
    if (words.trim() === saved) return;
    if (words.trim() === '') return change(dance, { combAngleDeg: null });
    const angle = Number(words.replace(',', '.'));
    if (!(angle >= -180 && angle <= 360)) {
      say(
        'note',
        `Comb angle: found ${JSON.stringify(words)}; wanted degrees clockwise from straight up, from -180 to 360.`,
      );
      return setDraft(saved);
    }
    change(dance, { combAngleDeg: ((angle % 360) + 360) % 360 });
  };
  const angle = draft.trim() === '' ? null : Number(draft.replace(',', '.'));
  return (
    <div className="angle">
      <label>
        Comb angle °
        <input
          id="angle"
          inputMode="decimal"
          value={draft}
          title="Clockwise from straight up, degrees"
          onChange={(event) => setDraft(event.target.value)}
          onBlur={() => save(draft)}
          onKeyDown={(event) => event.key === 'Enter' && event.currentTarget.blur()}
        />
      </label>
      <AngleDial
        disabled={readOnly}
        angleDeg={angle !== null && Number.isFinite(angle) ? angle : null}
        onTurn={(next) => setDraft(String(next))}
        onSet={(next) => save(String(next))}
      />
    </div>
  );
}
