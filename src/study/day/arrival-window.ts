/** Minutes before an arrival in which dances are counted unless told otherwise. */
export const defaultWindowMin = 60;
