import { dismiss, useStore } from './store.ts';

const SIGNS = { note: 'i', trouble: '!', elsewhere: '⇄' } as const;

/** What happened, at the foot of the page; read out by screen readers. */
export function Notices() {
  const notices = useStore((state) => state.notices);
  return (
    <div className="notices" aria-live="polite">
      {notices.map(({ id, kind, text }) => (
        <div key={id} className={`notice ${kind}`}>
          <span className="sign" aria-hidden="true">
            {SIGNS[kind]}
          </span>
          <span>{text}</span>
          <button type="button" aria-label="Put this away" onClick={() => dismiss(id)}>
            ×
          </button>
        </div>
      ))}
    </div>
  );
}
