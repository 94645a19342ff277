/**
 * What an empty queue says, so that nobody takes one recording for the whole study.
 *
 * @param all whether reviewed sounds were asked for too
 * @param left sounds of the whole study that wait for review
 */
export function emptyQueueText(all: boolean, left: number): string {
  if (all) return 'Nothing was heard in this recording.';
  if (left === 0) {
    return 'Nothing waits for review in this study. Turn to the calibration page (c), or choose “all” to look again.';
  }
  const waiting = left === 1 ? '1 sound waits' : `${left} sounds wait`;
  return `Nothing waits for review in this recording; ${waiting} in others of the study: choose one at the top.`;
}
