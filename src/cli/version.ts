import { readFileSync } from 'node:fs';
import { combtoneVersion } from '../study/version.ts';

/** What `combtone --version --json` tells: enough to say in a report what was run, and where. */
export interface VersionRecord {
  readonly version: string;
  /** Commit of the source that was built, ending in `-dirty` where files had been changed since; null if unknown. */
  readonly build: string | null;
  readonly node: string;
  /** Operating system and processor, such as linux-x64. */
  readonly platform: string;
}

/** Version, build, and what it runs on. */
export function versionRecord(): VersionRecord {
  return {
    version: combtoneVersion,
    build: buildCommit(),
    node: process.versions.node,
    platform: `${process.platform}-${process.arch}`,
  };
}

/** Whether a call asks for the version as JSON: both options, in any order, and no command. */
export function asksVersionJson(words: readonly string[]): boolean {
  const asked = words.filter((word) => word !== '--debug');
  const versions = asked.filter((word) => word === '--version' || word === '-V');
  return versions.length > 0 && asked.includes('--json') && asked.length === versions.length + 1;
}

/** As `note-build.ts` wrote it beside the built program; null where it was built without. */
function buildCommit(): string | null {
  try {
    const noted = JSON.parse(readFileSync(new URL('../build.json', import.meta.url), 'utf8')) as {
      readonly commit?: unknown;
    };
    return typeof noted.commit === 'string' ? noted.commit : null;
  } catch {
    return null;
  }
}
