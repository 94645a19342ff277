/** How many times as long the runs of a bee with a load last. Made up: large enough for a comparison to find it. */
export const loadedFactor = 1.2;
