import { first } from './001-first.ts';
import { largeStudies } from './002-large-studies.ts';

/** In order; a store's user_version is how many of them it has had. */
export const migrations: readonly string[] = [first, largeStudies];
