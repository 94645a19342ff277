/** What a foraging map counts: every dance as one, or as many as it has used runs. */
export const mapWeights = ['dances', 'runs'] as const;
/** One of these. */
export type MapWeight = (typeof mapWeights)[number];
