import { existsSync, readdirSync, readFileSync } from 'node:fs';
import { basename, join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { describe, expect, test } from 'vitest';

/** What comes with the program from others, and that nothing of it or of ours speaks with anybody. */

const root = fileURLToPath(new URL('../../', import.meta.url));
const read = (path: string) => readFileSync(join(root, path), 'utf8');

interface Locked {
  readonly version: string;
  readonly license?: string;
  readonly integrity?: string;
  readonly dev?: boolean;
  readonly hasInstallScript?: boolean;
}

interface Manifest {
  readonly license?: string;
  readonly scripts?: Readonly<Record<string, string>>;
}

const locked = Object.entries(
  (JSON.parse(read('package-lock.json')) as { packages: Record<string, Locked> }).packages,
).filter(([path]) => path !== '');
const nameOf = (path: string) => path.slice(path.lastIndexOf('node_modules/') + 'node_modules/'.length);
/** What a package says of itself; null for one that other systems than this one want. */
const manifestOf = (path: string): Manifest | null =>
  existsSync(join(root, path, 'package.json'))
    ? (JSON.parse(read(join(path, 'package.json'))) as Manifest)
    : null;

/** Needed to build the page, and part of what is built. */
const IN_PAGE = ['react', 'react-dom', 'scheduler'];

interface Used {
  readonly name: string;
  readonly version: string;
  readonly licence: string;
}

const used: readonly Used[] = locked
  .filter(([path, { dev }]) => dev !== true || IN_PAGE.includes(nameOf(path)))
  .map(([path, { version, license }]) => ({
    name: nameOf(path),
    version,
    licence: manifestOf(path)?.license ?? license ?? 'none told',
  }));

/** Licences that ask for no more than that they and the copyright be kept with the program. */
const FREE = [
  'MIT',
  'ISC',
  'Apache-2.0',
  'Apache-2.0 AND BSL-1.0',
  'BSD-2-Clause',
  'BSD-3-Clause',
  '0BSD',
  'BlueOak-1.0.0',
  '(MIT OR WTFPL)',
  '(BSD-2-Clause OR MIT OR Apache-2.0)',
];
/** Others, each taken on with open eyes, and what it asks for. */
const WITH_CARE: Readonly<Record<string, { readonly licence: string; readonly note: string }>> = {
  'codec-parser': {
    licence: 'LGPL-3.0-or-later',
    note:
      'Finds the frames of FLAC and Ogg for the decoders; it comes with @wasm-audio-decoders/flac and ' +
      '@wasm-audio-decoders/ogg-vorbis. The LGPL lets a program under another licence use it as a package of its own, ' +
      'unchanged and to be replaced by its user: here it is loaded from node_modules as it was published. Whoever ' +
      'bundles the program into one file must keep it replaceable, or give its parts on those terms.',
  },
};
/** Code of others inside packages whose own licence does not name it. */
const INSIDE: readonly string[] = [
  'mpg123-decoder is MIT for its own part; the WebAssembly in it is built from mpg123, which is LGPL-2.1 (from its ' +
    'home page, from memory). It is loaded unchanged from node_modules and may be replaced there.',
  '@wasm-audio-decoders/flac and @wasm-audio-decoders/ogg-vorbis hold libFLAC, libogg and libvorbis (BSD-3-Clause, from memory).',
  'better-sqlite3 holds SQLite, which is in the public domain.',
  'plotly.js-basic-dist holds the libraries it is built from; their notices stand in the file itself.',
];

function licencesText(): string {
  const groups = new Map<string, Map<string, string[]>>();
  for (const { name, version, licence } of used) {
    const group = groups.get(licence) ?? new Map<string, string[]>();
    groups.set(licence, group);
    group.set(name, [...new Set([...(group.get(name) ?? []), version])].sort());
  }
  const parts = [...groups]
    .sort(([, a], [, b]) => b.size - a.size)
    .map(([licence, group]) => {
      const names = [...group.keys()].sort();
      const family = names.filter((name) => name.startsWith('@stdlib/'));
      const others = names.filter((name) => !name.startsWith('@stdlib/'));
      const listed = [
        ...(family.length > 0 ? [`@stdlib/* (${family.length} packages)`] : []),
        ...others.map((name) => `${name} ${group.get(name)!.join(', ')}`),
      ];
      return `## ${licence} (${names.length})\n\n${listed.join(' · ')}\n`;
    });
  const careful = Object.entries(WITH_CARE).map(
    ([name, { licence, note }]) => `- ${name} (${licence}): ${note}`,
  );
  return `# Licences

combtone itself is under the MIT licence (LICENSE). It uses the packages below; this page is made from what each says of
itself in its package.json, and a test holds it (\`npx vitest run --dir tests tests/security/dependencies -u\` writes it
anew). Every licence asks that it be kept with the program: \`npm\` installs each package with its own licence text.

## To be taken care of

${careful.join('\n')}
${INSIDE.map((note) => `- ${note}`).join('\n')}

${parts.join('\n')}`;
}

describe('packages', () => {
  test('each has a licence that lets everybody use the program', () => {
    const odd = used.filter(
      ({ name, licence }) => !FREE.includes(licence) && WITH_CARE[name]?.licence !== licence,
    );
    expect(odd).toEqual([]);
    expect(Object.keys(WITH_CARE).filter((name) => !used.some((one) => one.name === name))).toEqual([]);
  });

  test('docs/licences.md lists them as they are', async () => {
    await expect(licencesText()).toMatchFileSnapshot('../../docs/licences.md');
  });

  test('only those known to run anything when they are installed', () => {
    const known = [
      // Fetches or builds its library.
      'better-sqlite3',
      // Checks whether a built library fits; comes with bullmq, and works without.
      'msgpackr-extract',
    ];
    expect(
      locked.filter(([, { hasInstallScript }]) => hasInstallScript === true).map(([path]) => nameOf(path)),
    ).toEqual(known);
    const running = locked.filter(([path]) => {
      const scripts = manifestOf(path)?.scripts ?? {};
      return ['preinstall', 'install', 'postinstall'].some((name) => scripts[name] !== undefined);
    });
    expect(running.map(([path]) => nameOf(path))).toEqual(known);
  });

  test('each is held to its content by the lock file', () => {
    const loose = locked.filter(([, { integrity }]) => integrity?.startsWith('sha512-') !== true);
    expect(loose.map(([path]) => path)).toEqual([]);
  });
});

const filesOf = (folder: string, ending: RegExp): string[] =>
  readdirSync(join(root, folder), { recursive: true, withFileTypes: true })
    .filter((entry) => entry.isFile() && ending.test(entry.name))
    .map((entry) => join(entry.parentPath, entry.name));
const hostsIn = (path: string): string[] =>
  [...readFileSync(path, 'utf8').matchAll(/\b(?:https?|wss?):\/\/([^\s"'`/?#)\\<>]+)/g)].map(
    ([, host]) => host!,
  );

describe('nothing phones home', () => {
  test('the program names no host but this machine', () => {
    for (const folder of ['src', 'dist', 'web/src']) {
      const named = filesOf(folder, /\.(?:ts|tsx|js|css|html)$/).flatMap((path) =>
        hostsIn(path).map((host) => `${basename(path)}: ${host}`),
      );
      const allowed = /: (?:127\.0\.0\.1(?::\$\{.*)?|\$\{.*|www\.w3\.org)$/;
      expect(
        named.filter((one) => !allowed.test(one)),
        folder,
      ).toEqual([]);
    }
  });

  test('only the service listens, and only the queue of many machines calls', () => {
    const network =
      /from '(?:node:)?(?:http2?|https|net|tls|dgram|dns(?:\/promises)?|undici|ws|bullmq|ioredis|fastify)'|\bfetch\(|\bWebSocket\b|\bEventSource\b|sendBeacon/;
    const speaking = filesOf('src', /\.ts$/)
      .filter((path) => network.test(readFileSync(path, 'utf8')))
      .map((path) => path.slice(join(root, 'src').length + 1).split('/')[0]);
    expect([...new Set(speaking)].filter((room) => room !== 'server' && room !== 'jobs')).toEqual([]);
    const asking = filesOf('web/src', /\.tsx?$/)
      .filter(
        (path) =>
          network.test(readFileSync(path, 'utf8')) || /XMLHttpRequest/.test(readFileSync(path, 'utf8')),
      )
      .map((path) => basename(path));
    expect(asking.sort()).toEqual(['service.ts', 'stream.ts']);
  });

  test('hosts in the built page are those that its libraries name for kinds of figure it has not, and none may be asked', () => {
    const libraries = [
      'plotly.js-basic-dist/plotly-basic.js',
      'react-dom/cjs/react-dom-client.production.js',
      'react/cjs/react.production.js',
    ];
    const theirs = new Set(libraries.flatMap((path) => hostsIn(join(root, 'node_modules', path))));
    const named = filesOf('dist-web', /\.(?:js|css|html|svg)$/).flatMap(hostsIn);
    expect([...new Set(named)].filter((host) => !theirs.has(host) && host !== 'www.w3.org')).toEqual([]);
    // What keeps them from being asked: tests/security/service.test.ts holds the policy on every answer.
    expect(read('src/server/guard.ts')).toContain(`"connect-src 'self'"`);
  });
});
