import { useEffect, useRef, useState } from 'react';
import { takeBack } from './editing.ts';
import { readHistory, showRecording } from './loading.ts';
import { stopPlayback } from './player.ts';
import { keep, put, say, type Theme, useReadOnly, useStore } from './store.ts';

export function Header() {
  const page = useStore((state) => state.page);
  const study = useStore((state) => state.study)!;
  return (
    <header className="top">
      <span className="brand" aria-hidden="true">
        <i />
        <i />
        <i />
      </span>
      <strong className="study-name" title={study.settings.name}>
        {study.settings.name}
      </strong>
      {study.readOnly && <span className="tag">reading only</span>}
      <RecordingChoice />
      <nav aria-label="Pages">
        <a href="#review" aria-current={page === 'review' ? 'page' : undefined}>
          Review
        </a>
        <a href="#calibration" aria-current={page === 'calibration' ? 'page' : undefined}>
          Calibration
        </a>
        <a href="#map" aria-current={page === 'map' ? 'page' : undefined}>
          Map
        </a>
      </nav>
      <ProgressBar />
      <UndoRedo />
      <Reviewer />
      <ThemeChoice />
      <button
        type="button"
        className="round"
        aria-label="Keys and help"
        title="Keys and help (?)"
        onClick={() => put({ help: true })}
      >
        ?
      </button>
    </header>
  );
}

function RecordingChoice() {
  const recordings = useStore((state) => state.study)!.recordings;
  const recordingId = useStore((state) => state.recordingId);
  const channel = useStore((state) => state.channel);
  const recording = recordings.find(({ id }) => id === recordingId);
  const go = (id: number, number: number) => {
    stopPlayback();
    void showRecording(id, number);
  };
  if (recording === undefined) return null;
  return (
    <span className="choices">
      <select
        aria-label="Recording"
        title={`${recording.path}${recording.present ? '' : ' (file missing)'}`}
        value={recordingId}
        onChange={(event) => go(Number(event.target.value), 1)}
      >
        {recordings.map(({ id, path, present }) => (
          <option key={id} value={id}>
            {path.split('/').at(-1)}
            {present ? '' : ' (file missing)'}
          </option>
        ))}
      </select>
      {recording.channelCount > 1 && (
        <select
          aria-label="Channel"
          className="channel"
          value={channel}
          onChange={(event) => go(recordingId, Number(event.target.value))}
        >
          {Array.from({ length: recording.channelCount }, (_, index) => (
            <option key={`channel ${index + 1}`} value={index + 1}>
              channel {index + 1}
            </option>
          ))}
        </select>
      )}
    </span>
  );
}

function ProgressBar() {
  const { sounds, reviewed } = useStore((state) => state.progress);
  const unsaved = useStore((state) => state.unsaved);
  const connected = useStore((state) => state.connected);
  const words = !connected ? 'not connected' : unsaved > 0 ? 'saving …' : 'all saved';
  return (
    <span className="progress">
      <progress value={reviewed} max={Math.max(1, sounds)} aria-label="Sounds reviewed" />
      <span>
        <b>{reviewed}</b> of {sounds} reviewed
      </span>
      <span className={connected ? 'saved' : 'saved lost'} role="status">
        {words}
      </span>
    </span>
  );
}

function UndoRedo() {
  const undo = useStore((state) => state.undoCount);
  const redo = useStore((state) => state.redoCount);
  const readOnly = useReadOnly();
  return (
    <span className="pair">
      <button
        type="button"
        disabled={undo === 0 || readOnly}
        title="Undo (u)"
        onClick={() => void takeBack('undo')}
      >
        Undo
      </button>
      <button
        type="button"
        disabled={redo === 0 || readOnly}
        title="Redo (Shift+U)"
        onClick={() => void takeBack('redo')}
      >
        Redo
      </button>
    </span>
  );
}

function Reviewer() {
  const reviewer = useStore((state) => state.reviewer);
  const readOnly = useReadOnly();
  const [draft, setDraft] = useState(reviewer);
  const field = useRef<HTMLInputElement>(null);
  useEffect(() => setDraft(reviewer), [reviewer]);
  const take = () => {
    const name = draft.trim().slice(0, 120);
    if (name === reviewer) return;
    keep('reviewer', name);
    put({ reviewer: name, undoCount: 0, redoCount: 0 });
    void readHistory();
    if (name !== '') say('note', `Edits from here on are kept as made by ${name}.`);
  };
  return (
    <input
      ref={field}
      id="reviewer"
      className={reviewer === '' && !readOnly ? 'reviewer wanted' : 'reviewer'}
      aria-label="Your name, kept with every edit"
      title="Your name, kept with every edit"
      placeholder="Your name"
      disabled={readOnly}
      maxLength={120}
      value={draft}
      onChange={(event) => setDraft(event.target.value)}
      onBlur={take}
      onKeyDown={(event) => event.key === 'Enter' && field.current?.blur()}
    />
  );
}

const NEXT_THEME: Readonly<Record<Theme, Theme>> = { system: 'light', light: 'dark', dark: 'system' };
const THEME_NAMES: Readonly<Record<Theme, string>> = { system: 'Auto', light: 'Light', dark: 'Dark' };

function ThemeChoice() {
  const theme = useStore((state) => state.theme);
  const next = () => {
    keep('theme', NEXT_THEME[theme]);
    put({ theme: NEXT_THEME[theme] });
  };
  return (
    <button
      type="button"
      title="Light, dark, or as the system has it"
      aria-label={`Appearance: ${THEME_NAMES[theme]}`}
      onClick={next}
    >
      {THEME_NAMES[theme]}
    </button>
  );
}
