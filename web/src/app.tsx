import { lazy, Suspense, useEffect, useLayoutEffect, useState } from 'react';
import { DanceDetails } from './dance-details.tsx';
import { Header } from './header.tsx';
import { HelpSheet } from './help.tsx';
import { onKey } from './keys.ts';
import { Ladder } from './ladder.tsx';
import { openStudyPage, refreshStudy } from './loading.ts';
import { Notices } from './notices.tsx';
import { QueueShelf } from './queue.tsx';
import { Ribbon } from './ribbon.tsx';
import { Stage } from './stage.tsx';
import { now, pageOfAddress, put, useStore } from './store.ts';
import { followEdits } from './stream.ts';
import { Tools } from './tools.tsx';

const Calibration = lazy(() => import('./calibration/page.tsx'));
const MapPage = lazy(() => import('./map/page.tsx'));

export function App() {
  const page = useStore((state) => state.page);
  const theme = useStore((state) => state.theme);
  const study = useStore((state) => state.study);
  const trouble = useStore((state) => state.trouble);
  // Before anything that is drawn in its colours.
  useLayoutEffect(() => {
    if (theme === 'system') delete document.documentElement.dataset.theme;
    else document.documentElement.dataset.theme = theme;
  }, [theme]);
  useRunning();
  if (trouble !== null) return <Trouble text={trouble} />;
  if (study === null) return <Opening />;
  return (
    <>
      <Header />
      {page === 'calibration' ? (
        <Suspense fallback={<Loading page="calibration" />}>
          <Calibration />
        </Suspense>
      ) : page === 'map' ? (
        <Suspense fallback={<Loading page="map" />}>
          <MapPage />
        </Suspense>
      ) : study.recordings.length === 0 ? (
        <NoRecordings />
      ) : (
        <Review />
      )}
      <Notices />
      <HelpSheet />
    </>
  );
}

function Loading({ page }: { readonly page: string }) {
  return (
    <p className="resting" role="status">
      Loading the {page} page …
    </p>
  );
}

/** Opens the study once, then listens to the keys, to the address and to the other reviewers. */
function useRunning(): void {
  useEffect(() => {
    let ended = false;
    let stop = () => {};
    void openStudyPage().then(() => {
      if (!ended && now().study !== null) stop = followEdits();
    });
    const onHash = () => {
      put({ page: pageOfAddress() });
      void refreshStudy();
    };
    const scheme = matchMedia('(prefers-color-scheme: dark)');
    const onScheme = () => put({ systemDark: scheme.matches });
    scheme.addEventListener('change', onScheme);
    window.addEventListener('keydown', onKey);
    window.addEventListener('hashchange', onHash);
    return () => {
      ended = true;
      stop();
      scheme.removeEventListener('change', onScheme);
      window.removeEventListener('keydown', onKey);
      window.removeEventListener('hashchange', onHash);
    };
  }, []);
}

function Review() {
  return (
    <main className="review">
      <h1 className="unseen">Review</h1>
      <Ribbon />
      <div className="left">
        <Tools />
        <Stage />
        <QueueShelf />
      </div>
      <aside className="right" aria-label="Dance in hand">
        <Ladder />
        <DanceDetails />
      </aside>
    </main>
  );
}

function Opening() {
  // A study that opens at once needs no such words.
  const [late, setLate] = useState(false);
  useEffect(() => {
    const timer = setTimeout(() => setLate(true), 300);
    return () => clearTimeout(timer);
  }, []);
  return <main className="alone">{late && <p role="status">Opening the study …</p>}</main>;
}

function Trouble({ text }: { readonly text: string }) {
  return (
    <main className="alone">
      <h1>The study could not be opened</h1>
      <p role="alert">{`${text.charAt(0).toUpperCase()}${text.slice(1)}.`}</p>
      <p>
        If <code>combtone review</code> has ended, start it again and open the address it prints. No edit is
        lost: each was on disk before it was shown as saved.
      </p>
      <button type="button" onClick={() => location.reload()}>
        Try again
      </button>
    </main>
  );
}

function NoRecordings() {
  return (
    <main className="alone">
      <h1>No recording yet</h1>
      <p>Add one to the study and search it for dances, then open this page again:</p>
      <pre>combtone study add --study FOLDER RECORDING.wav{'\n'}combtone detect --study FOLDER</pre>
    </main>
  );
}
