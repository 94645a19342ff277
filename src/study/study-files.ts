/** What a study's folder holds. */
export const settingsFile = 'study.json';
export const storeFile = 'study.sqlite';
export const feedersFile = 'feeders.csv';
export const openingsFile = 'openings.csv';
export const arrivalsFile = 'arrivals.csv';

/** The tables that its owner fills in. */
export const fieldTables = [feedersFile, openingsFile, arrivalsFile] as const;

/** All of them. */
export const studyFiles: readonly string[] = [settingsFile, storeFile, ...fieldTables];
