import { describe, expect, test, vi } from 'vitest';
import { type RouteName, type RouteShape, routes } from '../../src/server/route-table.ts';
import { lastEventId } from '../../src/study/store/events.ts';
import { madeService } from './made-service.ts';

vi.setConfig({ testTimeout: 30_000, hookTimeout: 30_000 });

/** Who gets in, and what becomes of requests that mean harm. More of it: tests/server/guard.test.ts. */

const { study, serving, failures, bearer, ask } = madeService();

const cookie = () => `combtone-${serving().port}=${serving().token}`;
const all = Object.entries(routes) as [RouteName, RouteShape][];
/** A path of a route that its checks let through. */
const sample = (name: RouteName, path: string) =>
  path.replace(':id', name === 'dance' || name === 'estimate' ? 'hive-d0001' : '1') +
  (/spectrogram|audio|window/.test(name) ? '?from=0&to=1' : '');
const changing = all.filter(([, { method }]) => method !== 'GET');

describe('every address', () => {
  test.each(all)('%s: not without the token, nor with a wrong one', async (name, { method, path }) => {
    const at = sample(name, path);
    const json = { 'content-type': 'application/json' };
    for (const headers of [
      {},
      { authorization: 'Bearer ' },
      { authorization: `Basic ${serving().token}` },
      { authorization: `Bearer ${serving().token.toLowerCase()}-` },
      { cookie: `combtone-${serving().port}=` },
      { cookie: `combtone-${serving().port}=${serving().token}x` },
      { cookie: `combtone-1=${serving().token}` },
    ]) {
      const { status, body } = await ask(
        at,
        { ...json, ...headers },
        { method, body: method === 'GET' ? '' : '{}' },
      );
      expect(status, JSON.stringify(headers)).toBe(401);
      expect(body).not.toContain('hive');
    }
    const separator = at.includes('?') ? '&' : '?';
    for (const token of ['guess', '', serving().token.slice(0, -1), `${serving().token}&token=x`]) {
      expect((await ask(`${at}${separator}token=${token}`, {}, { method })).status, token).toBe(401);
    }
    // The token in the address opens the page, and nothing that changes.
    if (method !== 'GET')
      expect((await ask(`${at}?token=${serving().token}`, json, { method, body: '{}' })).status).toBe(401);
  });

  test.each(all)('%s: not for another page, whatever it has', async (name, { method, path }) => {
    const headers = { cookie: cookie(), 'content-type': 'application/json', ...bearer() };
    const body = method === 'GET' ? '' : '{}';
    for (const more of [
      { origin: 'http://evil.example' },
      { origin: 'null' },
      { origin: `https://127.0.0.1:${serving().port}` },
      { origin: `http://127.0.0.1:${serving().port + 1}` },
      { origin: `http://127.0.0.1:${serving().port}.evil.example` },
      { 'sec-fetch-site': 'cross-site', 'sec-fetch-mode': 'no-cors', 'sec-fetch-dest': 'image' },
      // Another port of this machine, to which the browser sends the cookie all the same.
      { 'sec-fetch-site': 'same-site', 'sec-fetch-mode': 'no-cors', 'sec-fetch-dest': 'script' },
      { 'sec-fetch-site': 'same-site', 'sec-fetch-mode': 'navigate', 'sec-fetch-dest': 'iframe' },
    ]) {
      const { status } = await ask(sample(name, path), { ...headers, ...more }, { method, body });
      expect(status, JSON.stringify(more)).toBe(403);
    }
  });

  test.each(all)(
    '%s: not under another name, which could be made to point here',
    async (name, { method, path }) => {
      for (const host of [
        `evil.example:${serving().port}`,
        'evil.example',
        `[evil]:${serving().port}`,
        `127.0.0.1:${serving().port}@evil.example`,
        ' ',
      ]) {
        const { status } = await ask(sample(name, path), { ...bearer(), host }, { method });
        expect(status === 403 || status === 400, `${host} ${status}`).toBe(true);
      }
    },
  );

  test.each(all)(
    '%s: answers, refusals too, carry what keeps a browser safe',
    async (name, { method, path }) => {
      const body = method === 'GET' ? '' : '{"reviewer":1}';
      const headers = { ...bearer(), 'content-type': 'application/json' };
      for (const given of [headers, {}, { ...headers, origin: 'http://evil.example' }]) {
        const answer = await ask(sample(name, path), given, { method, body });
        expect(answer.headers['content-security-policy']).toMatch(
          /^default-src 'none'; script-src 'self';.*base-uri 'none'; form-action 'none'; frame-ancestors 'none'$/,
        );
        expect(answer.headers).toMatchObject({
          'x-content-type-options': 'nosniff',
          'referrer-policy': 'no-referrer',
          'cross-origin-opener-policy': 'same-origin',
          'cross-origin-resource-policy': 'same-origin',
        });
        expect(
          Object.keys(answer.headers).filter((key) => /^access-control|^server$|powered/.test(key)),
        ).toEqual([]);
      }
    },
  );
});

describe('requests that forge an edit', () => {
  const body = JSON.stringify({ reviewer: 'ada', edit: { kind: 'accept', targets: [] } });
  test.each(changing)(
    '%s: takes no form that a page elsewhere can send without asking',
    async (_, { path }) => {
      const before = lastEventId(study().store);
      for (const type of [
        'text/plain',
        'application/x-www-form-urlencoded',
        'multipart/form-data; boundary=x',
      ]) {
        const { status } = await ask(path, { ...bearer(), 'content-type': type }, { method: 'POST', body });
        expect([400, 415], type).toContain(status);
      }
      for (const method of ['GET', 'PUT', 'PATCH', 'DELETE', 'OPTIONS']) {
        const { status } = await ask(path, { ...bearer(), origin: 'http://evil.example' }, { method });
        expect(status, method).toBe(403);
      }
      expect(lastEventId(study().store)).toBe(before);
    },
  );

  test('by a link from elsewhere the page opens, if the browser has the cookie', async () => {
    const headers = {
      'sec-fetch-site': 'cross-site',
      'sec-fetch-mode': 'navigate',
      'sec-fetch-dest': 'document',
    };
    expect((await ask('/', { ...headers, cookie: cookie() })).status).toBe(200);
    expect((await ask('/', headers)).status).toBe(401);
  });

  test('bodies with keys that change what all objects have are refused', async () => {
    const headers = { ...bearer(), 'content-type': 'application/json' };
    for (const text of [
      '{"reviewer":"ada","__proto__":{"readOnly":true}}',
      '{"reviewer":"ada","constructor":{"prototype":{"readOnly":true}}}',
      `{"reviewer":${'['.repeat(50_000)}${']'.repeat(50_000)}}`,
      '{"reviewer":"ada","requestId":1e308}',
      '{"reviewer":"ada"',
      '\u0000',
    ]) {
      const { status } = await ask('/api/undo', headers, { method: 'POST', body: text });
      expect(status, text.slice(0, 60)).toBe(400);
    }
    expect(({} as { readOnly?: boolean }).readOnly).toBeUndefined();
  });
});

describe('places outside', () => {
  const climbs = [
    '../../secret.txt',
    '..%2f..%2fsecret.txt',
    '%2e%2e/%2e%2e/secret.txt',
    '..%5c..%5csecret.txt',
    '%252e%252e%252fsecret.txt',
    '....//....//secret.txt',
    '/etc/passwd',
    '%00',
    'hive.wav%00.txt',
    '..;/secret.txt',
    '%c0%ae%c0%ae/secret.txt',
  ];
  const parameters = all.filter(([, { path }]) => path.includes(':'));
  test.each(parameters)('%s: no parameter leads there', async (_, { path, method }) => {
    expect(path.match(/:\w+/g)).toEqual([':id']);
    for (const climb of climbs) {
      const { status, body } = await ask(`${path.replace(':id', climb)}?from=0&to=1`, bearer(), { method });
      expect(status, climb).toBeGreaterThanOrEqual(400);
      expect(status, climb).toBeLessThan(500);
      expect(body).not.toContain('root:');
    }
  });

  test('nor does the page’s folder', async () => {
    for (const climb of [
      ...climbs,
      'assets/../../secret.txt',
      'assets/%2e%2e/%2e%2e/secret.txt',
      '.env',
      'assets',
    ]) {
      const { status, body } = await ask(`/${climb}`, bearer());
      expect(status, climb).toBeGreaterThanOrEqual(400);
      expect(body, climb).not.toContain('root:');
    }
  });

  test('a stretch beyond the recording is refused, one past its end is cut', async () => {
    for (const kind of ['audio', 'spectrogram', 'window']) {
      const status = async (query: string) =>
        (await ask(`/api/recordings/1/${kind}?${query}`, bearer())).status;
      for (const query of [
        'from=-1&to=1',
        'from=2&to=1',
        'from=0&to=1e308',
        'from=NaN&to=1',
        'from=0&to=Infinity',
        'from=0x1&to=',
        'from=0&to=1&channel=2',
        'from=0&to=1&channel=1e9',
        'from=0&from=1&to=2',
        'from[]=0&to=1',
        'from=0&to=100000',
      ]) {
        expect([400, 404], `${kind} ${query}`).toContain(await status(query));
      }
      if (kind !== 'window') expect(await status('from=20&to=21')).toBe(400);
      expect(await status('from=19&to=100')).toBe(200);
    }
    const audio = await ask('/api/recordings/1/audio?from=19&to=100', bearer());
    expect(audio.body.length).toBe(44 + 2 * 8000);
  });

  test('a range of bytes past the end is refused', async () => {
    const ranged = (range: string) => ask('/assets/page-1a2b.js', { ...bearer(), range });
    expect(await ranged('bytes=0-3')).toMatchObject({ status: 206, body: 'expo' });
    for (const range of ['bytes=100-', 'bytes=99999999999999999999-99999999999999999999']) {
      const { status, headers } = await ranged(range);
      expect(status).toBe(416);
      expect(headers['x-content-type-options']).toBe('nosniff');
    }
    for (const range of ['bytes=9-1', 'bytes=-99999999', 'lines=1-2', `bytes=${'0-1,'.repeat(500)}0-1`]) {
      const { status, body } = await ranged(range);
      expect([200, 206, 416], range.slice(0, 30)).toContain(status);
      expect(body.length).toBeLessThan(20_000);
    }
  });
});

test('nothing of all this was a failure of the service', () => {
  expect(failures.map(String)).toEqual([]);
});
