import { existsSync } from 'node:fs';
import { mkdir, readdir, readFile } from 'node:fs/promises';
import { basename, join, resolve } from 'node:path';
import type { Site } from '../bearing/sun.ts';
import { InputError, unwritable } from '../input-error.ts';
import { writeTable, writeWhole } from './csv.ts';
import { feederTableSchema, measuredFeeder, readFeeders } from './feeders.ts';
import { openingTableSchema, readOpenings } from './openings.ts';
import { isUnused, openStore, type Store } from './store/open-store.ts';
import { feedersFile, openingsFile, settingsFile, storeFile } from './study-files.ts';
import { type Feeder, type Opening, type StudySettings, studySettingsSchema } from './study-schemas.ts';

/** What the tables of a study folder say of places and times. */
export interface StudyPlaces {
  readonly feeders: readonly Feeder[];
  readonly openings: readonly Opening[];
}

/** An open study. */
export interface OpenStudy {
  readonly folder: string;
  readonly settings: StudySettings;
  readonly store: Store;
  readonly readOnly: boolean;
}

/** Settings of a study of which nothing is known yet. */
export function newSettings(name: string): StudySettings {
  return {
    format: 'combtone study',
    formatVersion: 1,
    name,
    hive: { latitude: null, longitude: null, elevationM: null, timeZone: null },
    comb: { orientation: 'vertical', facingDeg: null },
    channels: [],
    band: { lowHz: 200, highHz: 400 },
    speciesNote: null,
  };
}

/**
 * Makes a study folder: study.json, feeders.csv and openings.csv with headers to be filled in, and an empty
 * study.sqlite. Tables that are there already are left as they are.
 *
 * @throws InputError when the folder holds a study, or cannot be made
 */
export async function initStudy(folder: string, settings: StudySettings): Promise<void> {
  try {
    await mkdir(folder, { recursive: true });
    await readdir(folder);
  } catch (error) {
    const found = `a folder that cannot be made (${(error as NodeJS.ErrnoException).code})`;
    throw unwritable(folder, error, { found, wanted: 'a place that may be written to' });
  }
  const there = [settingsFile, storeFile].find((name) => existsSync(join(folder, name)));
  // A store without study.json and without content was left by a call that was cut short.
  if (there === settingsFile || (there === storeFile && !isUnused(join(folder, storeFile)))) {
    throw new InputError({ file: folder, found: `a study (${there})`, wanted: 'a folder without one' });
  }
  if (!existsSync(join(folder, feedersFile))) {
    await writeTable(join(folder, feedersFile), feederTableSchema, []);
  }
  if (!existsSync(join(folder, openingsFile))) {
    await writeTable(join(folder, openingsFile), openingTableSchema, []);
  }
  openStore(join(folder, storeFile), { create: true }).close();
  // Last: a folder with study.json is a whole study.
  await writeSettings(folder, settings);
}

/** Writes study.json. */
export async function writeSettings(folder: string, settings: StudySettings): Promise<void> {
  const checked = studySettingsSchema.parse(settings);
  await writeWhole(join(folder, settingsFile), `${JSON.stringify(checked, null, 2)}\n`);
}

/**
 * Opens a study folder. Close its store when done.
 *
 * @throws InputError when it is no study, study.json is wrong, or a newer combtone made it
 */
export async function openStudy(folder: string, readOnly = false): Promise<OpenStudy> {
  const settings = await readSettings(folder);
  const store = openStore(join(folder, storeFile), { readOnly });
  return { folder: resolve(folder), settings, store, readOnly };
}

/** Reads study.json. @throws InputError when it is not there or wrong */
export async function readSettings(folder: string): Promise<StudySettings> {
  const file = join(folder, settingsFile);
  const wanted = 'a study folder made by combtone study init';
  let content: string;
  try {
    content = await readFile(file, 'utf8');
  } catch (error) {
    const { code } = error as NodeJS.ErrnoException;
    const found = code === 'ENOENT' ? `no ${settingsFile} in it` : `${settingsFile}: ${code}`;
    throw new InputError({ file: folder, found, wanted });
  }
  return settingsOf(file, content);
}

/** The settings that the text of a study.json holds, checked. */
export function settingsOf(file: string, content: string): StudySettings {
  const wanted = 'a study folder made by combtone study init';
  let parsed: unknown;
  try {
    parsed = JSON.parse(content);
  } catch (error) {
    throw new InputError({ file, found: `no JSON (${(error as Error).message})`, wanted });
  }
  const version = (parsed as { formatVersion?: unknown } | null)?.formatVersion;
  if (typeof version === 'number' && version > 1) {
    const found = `${version}, from a newer combtone`;
    throw new InputError({
      file,
      place: 'formatVersion',
      found,
      wanted: '1, or a newer combtone to read it',
    });
  }
  const result = studySettingsSchema.safeParse(parsed);
  if (!result.success) {
    const issue = result.error.issues[0]!;
    const value = issue.path.reduce<unknown>(
      (inner, key) => (inner as Record<PropertyKey, unknown> | undefined)?.[key],
      parsed,
    );
    const place = issue.path.length > 0 ? { place: issue.path.join('.') } : {};
    throw new InputError({
      file,
      ...place,
      found: shown(value),
      wanted: issue.message,
    });
  }
  checkZone(file, result.data.hive.timeZone);
  return result.data;
}

/** A value as JSON; one that is nested too deeply for that by its kind. */
function shown(value: unknown): string {
  try {
    return JSON.stringify(value) ?? 'nothing';
  } catch {
    return Array.isArray(value) ? 'a deeply nested list' : 'a deeply nested object';
  }
}

function checkZone(file: string, timeZone: string | null): void {
  if (timeZone === null) return;
  try {
    new Intl.DateTimeFormat('en', { timeZone });
  } catch {
    const found = JSON.stringify(timeZone);
    throw new InputError({
      file,
      place: 'hive.timeZone',
      found,
      wanted: 'an IANA name such as Europe/Berlin, or null',
    });
  }
}

/**
 * Reads feeders.csv and openings.csv; a table that is not there has no rows. Feeders given by coordinates have
 * their distance and bearing where the hive's coordinates are known.
 */
export async function readPlaces(study: OpenStudy): Promise<StudyPlaces> {
  const { feeders, openings } = await readGivenPlaces(study);
  const site = siteOf(study.settings);
  return {
    feeders: site === null ? feeders : feeders.map((feeder) => measuredFeeder(site, feeder)),
    openings,
  };
}

/** feeders.csv and openings.csv as they were given. */
export async function readGivenPlaces({ folder, settings }: OpenStudy): Promise<StudyPlaces> {
  const feedersPath = join(folder, feedersFile);
  const openingsPath = join(folder, openingsFile);
  const feeders = existsSync(feedersPath) ? await readFeeders(feedersPath, siteOf(settings)) : [];
  const feederIds = feeders.map(({ feederId }) => feederId);
  const openings = existsSync(openingsPath)
    ? await readOpenings(openingsPath, feederIds, settings.hive.timeZone)
    : [];
  return { feeders, openings };
}

/** Where the hive stands; null where study.json does not tell. */
export function siteOf({ hive }: StudySettings): Site | null {
  const { latitude, longitude, elevationM } = hive;
  if (latitude === null || longitude === null) return null;
  return { latitudeDeg: latitude, longitudeDeg: longitude, ...(elevationM === null ? {} : { elevationM }) };
}

/** The study's name where none is given: that of its folder. */
export function nameOfFolder(folder: string): string {
  return basename(resolve(folder)).slice(0, 120) || 'study';
}
