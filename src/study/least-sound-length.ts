/** The shortest that a reviewer may make a sound, s: for edits, and for the page that offers them. */
export const shortestSoundS = 0.01;
