import { dismiss, type Notice, useStore } from './store.ts';

const SIGNS = { note: 'i', trouble: '!', elsewhere: '⇄' } as const;

/** The one to be read now: what went wrong before what is merely told, the newest first. */
function foremost(notices: readonly Notice[]): Notice | undefined {
  return notices.findLast(({ kind }) => kind !== 'note') ?? notices.at(-1);
}

/**
 * What happened, in a line of its own at the foot of the page, so that it covers nothing that hands may reach for;
 * read out by screen readers.
 */
export function Notices() {
  const notices = useStore((state) => state.notices);
  const shown = foremost(notices);
  return (
    <div className="notices" aria-live="polite">
      {shown === undefined ? (
        <span className="notices-rest">
          <kbd>?</kbd> lists every key
        </span>
      ) : (
        <div key={shown.id} className={`notice ${shown.kind}`}>
          <span className="sign" aria-hidden="true">
            {SIGNS[shown.kind]}
          </span>
          <span>{shown.text}</span>
          {notices.length > 1 && <span className="more">{notices.length - 1} more</span>}
          <button type="button" aria-label="Put this away" onClick={() => dismiss(shown.id)}>
            ×
          </button>
        </div>
      )}
    </div>
  );
}
