import { execFileSync } from 'node:child_process';
import { existsSync, writeFileSync } from 'node:fs';
import { fileURLToPath } from 'node:url';

/**
 * Run by `npm run build` once all is compiled: notes in dist/build.json which state of the source was built, for
 * `combtone --version --json`. A build outside the project's own history has none.
 */
function commitBuilt(): string | null {
  const root = fileURLToPath(new URL('../../', import.meta.url));
  if (!existsSync(`${root}.git`)) return null;
  try {
    const words = ['describe', '--always', '--dirty', '--abbrev=40', '--exclude=*'];
    // Others may be at work on the same tree: asking must not take their lock.
    const env = { ...process.env, GIT_OPTIONAL_LOCKS: '0' };
    const stdio: ['ignore', 'pipe', 'ignore'] = ['ignore', 'pipe', 'ignore'];
    return execFileSync('git', words, { cwd: root, env, encoding: 'utf8', stdio }).trim();
  } catch {
    return null;
  }
}

writeFileSync(new URL('../build.json', import.meta.url), `${JSON.stringify({ commit: commitBuilt() })}\n`);
