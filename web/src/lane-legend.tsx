import type { WindowSound } from '../../src/study/study-schemas.ts';
import { KIND_NAMES, SOUND_KINDS } from './judging.ts';

const LOOKS = [
  ['found', '', 'not reviewed'],
  ['accepted', '', 'accepted'],
  ['added', '+', 'added by hand'],
  ['rejected', '', 'rejected'],
] as const;

/** What the bars of the lanes mean, and how many sounds of each kind the window holds. */
export function LaneLegend({ sounds }: { readonly sounds: readonly WindowSound[] }) {
  const kinds = SOUND_KINDS.map((kind) => [kind, sounds.filter((one) => one.kind === kind).length] as const);
  return (
    <div className="lane-legend">
      <ul aria-label="How bars are drawn">
        {LOOKS.map(([status, sign, words]) => (
          <li key={status}>
            <i className={`swatch ${status}`} aria-hidden="true">
              {sign}
            </i>
            {words}
          </li>
        ))}
      </ul>
      <ul aria-label="Kinds in this window">
        {kinds.map(
          ([kind, count]) =>
            count > 0 && (
              <li key={kind}>
                <i className={`swatch ${kind === 'train' ? 'train' : 'call'}`} aria-hidden="true" />
                {KIND_NAMES[kind]} <b>{count}</b>
              </li>
            ),
        )}
      </ul>
    </div>
  );
}
