import { request as httpRequest } from 'node:http';
import { connect } from 'node:net';
import { setTimeout as sleep } from 'node:timers/promises';
import { describe, expect, test, vi } from 'vitest';
import { edit, now } from '../study/made-study.ts';
import { madeService } from './made-service.ts';

vi.setConfig({ testTimeout: 30_000, hookTimeout: 30_000 });

const { study, serving, serve, failures, bearer, ask } = madeService();

describe('too much', () => {
  test('a body of more than two megabytes is refused, told or not', async () => {
    const headers = { ...bearer(), 'content-type': 'application/json' };
    const body = `{"reviewer":"${'x'.repeat(3_000_000)}"}`;
    const told = await ask(
      '/api/undo',
      { ...headers, 'content-length': String(body.length) },
      { method: 'POST', body },
    ).catch(() => null);
    expect(told === null || told.status === 413).toBe(true);
    const piecemeal = await ask(
      '/api/undo',
      { ...headers, 'transfer-encoding': 'chunked' },
      { method: 'POST', body },
    ).catch(() => null);
    expect(piecemeal === null || piecemeal.status === 413).toBe(true);
    expect((await ask('/api/study')).status).toBe(200);
  });

  test('who has no token is refused before his body is read', async () => {
    const socket = connect(serving().port, '127.0.0.1');
    socket.write(
      `POST /api/edits HTTP/1.1\r\nHost: 127.0.0.1:${serving().port}\r\nContent-Type: application/json\r\nContent-Length: 2000000\r\n\r\n{`,
    );
    const answer = await new Promise<string>((resolve) =>
      socket.once('data', (data) => resolve(String(data))),
    );
    expect(answer).toMatch(/^HTTP\/1\.1 401/);
    socket.destroy();
  });

  test('headers and addresses that never end are refused', async () => {
    const long = await ask(`/api/dances/${'x'.repeat(100_000)}`, bearer()).catch(() => ({ status: 431 }));
    expect([404, 414, 431]).toContain(long.status);
    const many = await ask('/api/study', { ...bearer(), 'x-long': 'x'.repeat(100_000) }).catch(() => ({
      status: 431,
    }));
    expect(many.status).toBe(431);
    expect((await ask(`/api/dances/${'x'.repeat(300)}`, bearer())).status).toBe(404);
  });

  test('clients that send drop by drop are let go, in head and in body', async () => {
    const { port, token } = await serve({ requestMs: 600 });
    const slow = async (first: string) => {
      const socket = connect(port, '127.0.0.1');
      socket.on('error', () => {});
      socket.write(first);
      const drip = setInterval(() => socket.writable && socket.write('x'), 100);
      let said = '';
      socket.on('data', (data) => {
        said += String(data);
      });
      const began = performance.now();
      await new Promise((resolve) => socket.on('close', resolve));
      clearInterval(drip);
      return { said, tookMs: performance.now() - began };
    };
    const head = `GET /api/study HTTP/1.1\r\nHost: 127.0.0.1:${port}\r\nX-Slow: `;
    const body = `POST /api/undo HTTP/1.1\r\nHost: 127.0.0.1:${port}\r\nAuthorization: Bearer ${token}\r\nContent-Type: application/json\r\nContent-Length: 1000\r\n\r\n{`;
    for (const { said, tookMs } of await Promise.all([slow(head), slow(body)])) {
      expect(said).toMatch(/^HTTP\/1\.1 408|^$/);
      expect(tookMs).toBeLessThan(5000);
    }
  });

  test('a thousand requests at once are all answered', async () => {
    const paths = ['/api/recordings/1/window?from=0&to=200', '/api/queue?limit=50', '/api/study', '/'];
    const statuses = await Promise.all(
      Array.from({ length: 1000 }, async (_, k) => (await ask(paths[k % paths.length]!, bearer())).status),
    );
    expect(new Set(statuses)).toEqual(new Set([200]));
  });

  test('two hundred event streams idle in nobody’s way, hear of edits, and leave nothing behind', async () => {
    const open: { destroy: () => void }[] = [];
    const heard: string[] = Array.from({ length: 200 }, () => '');
    const streams = await Promise.all(
      heard.map((_, k) => {
        return new Promise<void>((resolve) => {
          const sent = httpRequest(
            {
              host: '127.0.0.1',
              port: serving().port,
              path: '/api/events',
              headers: bearer(),
              agent: false,
            },
            (response) => {
              response.on('data', (part) => {
                heard[k] += String(part);
                resolve();
              });
              response.on('error', () => {});
            },
          );
          sent.on('error', () => {});
          sent.end();
          open.push(sent);
        });
      }),
    );
    expect(streams).toHaveLength(200);
    const began = performance.now();
    expect((await ask('/api/study')).status).toBe(200);
    expect(performance.now() - began).toBeLessThan(1000);
    const { id } = edit(study().store, { kind: 'accept', targets: [now(study().store, 'hive-t0001')] });
    const told = `id: ${id}\n`;
    // Written past the service, so that it has to notice by itself; its own handle tells no other.
    const { status } = await ask(
      '/api/undo',
      { ...bearer(), 'content-type': 'application/json' },
      {
        method: 'POST',
        body: '{"reviewer":"ada"}',
      },
    );
    expect(status).toBe(200);
    for (let wait = 0; wait < 100 && !heard.every((text) => text.includes(told)); wait++) await sleep(30);
    expect(heard.filter((text) => text.includes(told))).toHaveLength(200);
    for (const one of open) one.destroy();
    await sleep(200);
    expect((await ask('/api/study')).status).toBe(200);
  });

  test('a page that does not read is let go once a megabyte waits for it', async () => {
    const own = await serve();
    const socket = connect(own.port, '127.0.0.1');
    socket.on('error', () => {});
    const closed = new Promise<'closed'>((resolve) => socket.on('close', () => resolve('closed')));
    socket.write(
      `GET /api/events HTTP/1.1\r\nHost: 127.0.0.1:${own.port}\r\nAuthorization: Bearer ${own.token}\r\n\r\n`,
    );
    await new Promise((resolve) => socket.once('data', resolve));
    socket.pause();
    const note = 'n'.repeat(20_000);
    const headers = { authorization: `Bearer ${own.token}`, 'content-type': 'application/json' };
    const dance = async () =>
      (
        (await (await fetch(`http://127.0.0.1:${own.port}/api/dances/hive-d0001`, { headers })).json()) as {
          dance: { version: number };
        }
      ).dance;
    let { version } = await dance();
    const texts = Array.from({ length: 200 }, (_, k) => `${note}${k}`);
    for (const text of texts) {
      const target = { id: 'hive-d0001', version };
      const event = edit(study().store, { kind: 'dance', target, changes: { note: text } }, 'writer');
      version = event.id;
    }
    // All of it goes out with the next edit that the service itself makes: some 4 MB, each with the row as it now is.
    const accepted = { kind: 'accept', targets: [now(study().store, 'hive-t0002')] };
    const body = JSON.stringify({ reviewer: 'ada', edit: accepted });
    const answer = await fetch(`http://127.0.0.1:${own.port}/api/edits`, { method: 'POST', headers, body });
    expect(answer.status).toBe(200);
    // Nothing more is kept for it: when it reads again it finds the end.
    await sleep(300);
    socket.resume();
    const ended = await Promise.race([closed, sleep(3000).then(() => 'open' as const)]);
    expect(ended).toBe('closed');
  });
});

test('nothing of all this was a failure of the service', () => {
  expect(failures.map(String)).toEqual([]);
});
