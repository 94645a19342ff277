/** Indexes by which a page's questions stay quick in a study of a million trains. */
export const largeStudies = `
-- What the day ribbon counts stands in the index itself.
DROP INDEX sounds_by_time;
CREATE INDEX sounds_by_time ON sounds (recording_id, channel, start_s, end_s, kind, status, edited);
-- What is reviewed, with what tells so.
DROP INDEX sounds_reviewed;
CREATE INDEX sounds_reviewed ON sounds (recording_id, status, edited) WHERE (status <> 'found' OR edited = 1);
-- The queue: what waits for review, by time and, of one recording, by doubt.
CREATE INDEX sounds_waiting_by_time ON sounds (recording_id, start_s, sound_id, status, edited)
  WHERE status = 'found' AND edited = 0;
CREATE INDEX sounds_waiting_by_doubt ON sounds (recording_id, abs(coalesce(confidence, 0.5) - 0.5), start_s, sound_id, status, edited)
  WHERE status = 'found' AND edited = 0;
-- Dances that have a train left.
CREATE INDEX sounds_left ON sounds (recording_id, dance_id, kind, status)
  WHERE kind = 'train' AND status <> 'rejected';
`;
