/** The store as first laid out. A migration, once released, is never changed: a later one alters what it made. */
export const first = `
CREATE TABLE recordings (
  recording_id INTEGER PRIMARY KEY,
  sha256 TEXT NOT NULL UNIQUE,
  -- Relative to the study folder, with forward slashes.
  path TEXT NOT NULL,
  -- First part of the ids of what is found in it.
  stem TEXT NOT NULL UNIQUE,
  byte_count INTEGER NOT NULL,
  modified_ms REAL NOT NULL,
  sample_rate_hz REAL NOT NULL,
  channel_count INTEGER NOT NULL,
  duration_s REAL NOT NULL,
  start_time TEXT,
  warnings TEXT NOT NULL,
  added_at TEXT NOT NULL
) STRICT;

CREATE TABLE detections (
  detection_id INTEGER PRIMARY KEY,
  recording_id INTEGER NOT NULL REFERENCES recordings,
  settings_hash TEXT NOT NULL,
  settings TEXT NOT NULL,
  combtone_version TEXT NOT NULL,
  made_at TEXT NOT NULL,
  -- What it changed: counts of kept, same, new and gone.
  changes TEXT NOT NULL
) STRICT;
CREATE INDEX detections_by_recording ON detections (recording_id, detection_id);

-- What each detection found, as it found it. Never altered.
CREATE TABLE detected_sounds (
  detection_id INTEGER NOT NULL REFERENCES detections,
  sound_id TEXT NOT NULL,
  kind TEXT NOT NULL,
  channel INTEGER NOT NULL,
  start_s REAL NOT NULL,
  end_s REAL NOT NULL,
  carrier_hz REAL,
  snr_db REAL,
  confidence REAL,
  -- Middle of each pulse, s, 64-bit little-endian.
  pulse_times BLOB,
  PRIMARY KEY (detection_id, sound_id)
) STRICT, WITHOUT ROWID;

-- The truth: every row below is what these events, taken in order, make of it.
CREATE TABLE events (
  event_id INTEGER PRIMARY KEY AUTOINCREMENT,
  at TEXT NOT NULL,
  reviewer TEXT NOT NULL,
  kind TEXT NOT NULL,
  recording_id INTEGER REFERENCES recordings,
  target TEXT NOT NULL,
  before TEXT NOT NULL,
  after TEXT NOT NULL,
  undo_of INTEGER REFERENCES events,
  request_id TEXT UNIQUE
) STRICT;
CREATE INDEX events_by_reviewer ON events (reviewer, event_id);
CREATE TRIGGER events_stay_as_they_are BEFORE UPDATE ON events
  BEGIN SELECT RAISE(ABORT, 'an event is never changed'); END;
CREATE TRIGGER events_stay BEFORE DELETE ON events
  BEGIN SELECT RAISE(ABORT, 'an event is never removed'); END;

CREATE TABLE dances (
  dance_id TEXT PRIMARY KEY,
  version INTEGER NOT NULL REFERENCES events,
  recording_id INTEGER NOT NULL REFERENCES recordings,
  channel INTEGER NOT NULL,
  bee_id TEXT,
  paint_mark TEXT,
  feeder_id TEXT,
  -- 1 where feeder_id is the reviewer's word, even if that word is "none".
  feeder_set INTEGER NOT NULL,
  treatment TEXT,
  comb_angle_deg REAL,
  note TEXT
) STRICT, WITHOUT ROWID;
CREATE INDEX dances_by_recording ON dances (recording_id);

CREATE TABLE sounds (
  sound_id TEXT PRIMARY KEY,
  version INTEGER NOT NULL REFERENCES events,
  recording_id INTEGER NOT NULL REFERENCES recordings,
  channel INTEGER NOT NULL,
  kind TEXT NOT NULL,
  start_s REAL NOT NULL,
  end_s REAL NOT NULL,
  dance_id TEXT REFERENCES dances DEFERRABLE INITIALLY DEFERRED,
  pulse_count INTEGER,
  pulse_rate_hz REAL,
  carrier_hz REAL,
  snr_db REAL,
  confidence REAL,
  status TEXT NOT NULL,
  edited INTEGER NOT NULL,
  detection_id INTEGER REFERENCES detections,
  -- Ids in detected_sounds, of that detection, whose pulses it has.
  sources TEXT NOT NULL,
  CHECK (end_s > start_s)
) STRICT, WITHOUT ROWID;
CREATE INDEX sounds_by_time ON sounds (recording_id, channel, start_s, end_s);
CREATE INDEX sounds_by_dance ON sounds (dance_id);
CREATE INDEX sounds_reviewed ON sounds (recording_id) WHERE (status <> 'found' OR edited = 1);

-- The highest number given in ids that begin so.
CREATE TABLE id_counters (prefix TEXT PRIMARY KEY, last INTEGER NOT NULL) STRICT, WITHOUT ROWID;

CREATE TABLE calibrations (
  calibration_id INTEGER PRIMARY KEY,
  name TEXT NOT NULL,
  at TEXT NOT NULL,
  reviewer TEXT NOT NULL,
  dance_ids TEXT NOT NULL,
  -- calibration.json.
  record TEXT NOT NULL
) STRICT;
`;
