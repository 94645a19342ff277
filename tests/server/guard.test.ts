import { mkdir, mkdtemp, rm, writeFile } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, beforeAll, describe, expect, test, vi } from 'vitest';
import { rawGet, type Served, servedStudy } from './served-study.ts';

vi.setConfig({ testTimeout: 30_000, hookTimeout: 60_000 });

let served: Served;
let page = '';
beforeAll(async () => {
  page = await mkdtemp(join(tmpdir(), 'combtone-page-'));
  await mkdir(join(page, 'assets'));
  await writeFile(join(page, 'index.html'), '<!doctype html><title>page</title>');
  await writeFile(join(page, 'assets', 'page-1a2b.js'), 'export {};');
  served = await servedStudy({ pageFolder: page });
});

afterAll(() => rm(page, { recursive: true, force: true }));

describe('who is let in', () => {
  test('nobody without the token', async () => {
    const { port, token } = served;
    for (const path of ['/', '/api', '/api/study', '/api/events', '/assets/page-1a2b.js', '/none']) {
      expect((await rawGet(port, path, {})).status, path).toBe(401);
    }
    const wrong = [
      rawGet(port, '/?token=guess', {}),
      rawGet(port, '/api/study', { authorization: `Bearer ${token}x` }),
      rawGet(port, '/api/study', { cookie: `combtone-${port}=guess` }),
      // The cookie of a service on another port.
      rawGet(port, '/api/study', { cookie: `combtone-${port + 1}=${token}` }),
    ];
    for (const { status } of await Promise.all(wrong)) expect(status).toBe(401);
    const people = await rawGet(port, '/', { accept: 'text/html' });
    expect(people.body).toMatch(/the whole address that combtone review printed/);
    const programs = await rawGet(port, '/api/study', {});
    expect(JSON.parse(programs.body)).toMatchObject({ error: 'token' });
  });

  test('the printed address gives a cookie, and the cookie is enough', async () => {
    const { port, token, url } = served;
    expect(url).toBe(`http://127.0.0.1:${port}/?token=${token}`);
    expect(token).toHaveLength(32);
    const first = await rawGet(port, `/?token=${token}`, {});
    expect(first).toMatchObject({ status: 303, headers: { location: '/' } });
    const [cookie, ...rules] = String(first.headers['set-cookie']).split('; ');
    expect(rules.sort()).toEqual(['HttpOnly', 'Path=/', 'SameSite=Strict']);
    const second = await rawGet(port, '/', { cookie: cookie! });
    expect(second).toMatchObject({ status: 200, body: '<!doctype html><title>page</title>' });
    expect((await rawGet(port, '/api/study', { cookie: cookie! })).status).toBe(200);
  });

  test('no other host name, so that a name made to point here is of no use', async () => {
    const { port, token } = served;
    const authorization = `Bearer ${token}`;
    const status = async (host: string) => (await rawGet(port, '/api/study', { authorization, host })).status;
    expect(await status(`127.0.0.1:${port}`)).toBe(200);
    expect(await status(`localhost:${port}`)).toBe(200);
    for (const host of [
      'evil.example',
      `evil.example:${port}`,
      '127.0.0.1:1',
      `127.0.0.1.evil.example:${port}`,
    ]) {
      expect(await status(host), host).toBe(403);
    }
  });

  test('no other page', async () => {
    const { port, post } = served;
    const body = { reviewer: 'ada' };
    expect((await post('/api/undo', body, { origin: 'http://evil.example' })).status).toBe(403);
    expect((await post('/api/undo', body, { origin: 'null' })).status).toBe(403);
    expect((await post('/api/undo', body, { origin: `http://127.0.0.1:${port + 1}` })).status).toBe(403);
    // 409: nothing to take back, so it was let in.
    expect((await post('/api/undo', body, { origin: `http://127.0.0.1:${port}` })).status).toBe(409);
    expect((await served.get('/api/study', { origin: 'http://evil.example' })).status).toBe(403);
  });

  test('every answer forbids what is not ours', async () => {
    for (const path of ['/', '/api/study', '/none', '/api/events']) {
      const stop = new AbortController();
      const response = await fetch(`http://127.0.0.1:${served.port}${path}`, {
        headers: { authorization: `Bearer ${served.token}` },
        signal: stop.signal,
      });
      const policy = response.headers.get('content-security-policy')!;
      expect(policy, path).toMatch(/^default-src 'none'; script-src 'self';/);
      expect(policy).toMatch(/connect-src 'self'/);
      expect(policy).toMatch(/frame-ancestors 'none'/);
      expect(policy).not.toMatch(/script-src[^;]*unsafe|https?:|\*/);
      expect(response.headers.get('x-content-type-options')).toBe('nosniff');
      expect(response.headers.get('referrer-policy')).toBe('no-referrer');
      stop.abort();
    }
  });
});

describe('the page’s files', () => {
  test('are served with what a browser may keep, and nothing beside them is', async () => {
    const index = await served.get('/');
    expect(index.headers.get('cache-control')).toBe('no-cache');
    const script = await served.get('/assets/page-1a2b.js');
    expect(script.headers.get('content-type')).toMatch(/javascript/);
    expect(script.headers.get('cache-control')).toMatch(/immutable/);
    const authorization = `Bearer ${served.token}`;
    for (const path of ['/../package.json', '/%2e%2e/package.json', '/assets/..%2f..%2fpackage.json']) {
      expect((await rawGet(served.port, path, { authorization })).status, path).toBeGreaterThanOrEqual(400);
    }
  });

  test('where the page is not built a word says so', async () => {
    const { port } = await served.again({ pageFolder: join(page, 'none') });
    const { status, body } = await rawGet(port, '/', { authorization: `Bearer ${served.token}` });
    expect(status).toBe(200);
    expect(body).toMatch(/The page has not been built: run npm run build/);
  });
});

describe('read only', () => {
  test('every change is refused, looking is not', async () => {
    const { port } = await served.again({ readOnly: true });
    const headers = { authorization: `Bearer ${served.token}`, 'content-type': 'application/json' };
    const ask = (path: string, body?: unknown) =>
      fetch(`http://127.0.0.1:${port}${path}`, {
        headers,
        ...(body === undefined ? {} : { method: 'POST', body: JSON.stringify(body) }),
      });
    const before = await (await ask('/api/study')).json();
    expect(before.readOnly).toBe(true);
    const edit = { kind: 'accept', targets: [{ id: 'hive-t0001', version: 1 }] };
    const changes: [string, unknown][] = [
      ['/api/edits', { reviewer: 'ada', edit }],
      ['/api/undo', { reviewer: 'ada' }],
      ['/api/redo', { reviewer: 'ada' }],
      ['/api/calibrations', { reviewer: 'ada', name: 'x', danceIds: ['hive-d0001'] }],
    ];
    for (const [path, body] of changes) {
      const response = await ask(path, body);
      expect(response.status, path).toBe(403);
      expect(await response.json()).toMatchObject({ error: 'read only' });
    }
    expect((await (await ask('/api/study')).json()).lastEventId).toBe(before.lastEventId);
  });
});
