import { useEffect, useRef } from 'react';
import { KEY_GROUPS } from './keys.ts';
import { put, useStore } from './store.ts';

/** All keys, and what the marks mean. */
export function HelpSheet() {
  const open = useStore((state) => state.help);
  const dialog = useRef<HTMLDialogElement>(null);
  useEffect(() => {
    if (open && dialog.current?.open === false) dialog.current.showModal();
    if (!open) dialog.current?.close();
  }, [open]);
  return (
    <dialog ref={dialog} aria-labelledby="help-name" onClose={() => put({ help: false })}>
      <div className="sheet-top">
        <h2 id="help-name">Keys</h2>
        <button type="button" onClick={() => put({ help: false })}>
          Close
        </button>
      </div>
      <div className="sheet">
        {KEY_GROUPS.map(({ name, deeds }) => (
          <section key={name}>
            <h3>{name}</h3>
            <dl>
              {deeds.map(({ shown, does }) => (
                <div key={shown}>
                  <dt>
                    <kbd>{shown}</kbd>
                  </dt>
                  <dd>{does}</dd>
                </div>
              ))}
            </dl>
          </section>
        ))}
      </div>
      <p>
        On to the next to review goes the way that you go: from a dance (PgDn, a rung) to its next run and
        then the next dance, in time (. and ,) to the next sound, from the queue (n, b, a card) to the next of
        the queue.
      </p>
      <p>
        By hand: drag an end of a bar to correct it; drag across an empty part of a lane to add a run or a
        call; Shift and a click take several in hand, or a tap while Several is pressed, and let one go again.
        To divide a dance take the runs of its second part in hand, then Own dance; to move runs to another
        take them and last a run of that one in hand, then To dance. Drag the spectrogram to move the window,
        click it to set the cursor; the wheel moves on, with Ctrl it goes closer. Escape leaves a field and
        gives the keys back to the page.
      </p>
      <p>
        Marks: <b>✓</b> accepted, <b>×</b> rejected (struck out), <b>+</b> added by hand, a dashed bar has not
        been reviewed. On the ladder <b>◆</b> marks a run whose duration is odd in its dance, a hollow rung is
        not used for the mean, a dot between rungs is a begging call.
      </p>
    </dialog>
  );
}
