import { existsSync } from 'node:fs';
import { stat } from 'node:fs/promises';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';
import compress from '@fastify/compress';
import cookie from '@fastify/cookie';
import files from '@fastify/static';
import fastify, { type FastifyInstance, type FastifyRequest } from 'fastify';
import { type OpenStudy, readPlaces } from '../study/study-folder.ts';
import { type StudyView, studyView } from '../study/study-view.ts';
import { answerTo, badRequest, Refusal } from './failures.ts';
import { fitting } from './fitting.ts';
import { guard, newToken, plainPage } from './guard.ts';
import { type HandlerContext, handlersOf } from './handlers.ts';
import { openApiDocument } from './openapi.ts';
import { type Asked, type RouteName, type RouteShape, routes } from './route-table.ts';
import { soundFiles } from './sound-files.ts';
import { eventStream, type Stream } from './stream.ts';

export interface ServeOptions {
  /** Default 127.0.0.1: this machine alone. */
  readonly host?: string;
  /** Default 0: any that is free. */
  readonly port?: number;
  readonly readOnly?: boolean;
  /** For tests; a new one is made. */
  readonly token?: string;
  /** Folder of the built page. */
  readonly pageFolder?: string;
  /** How long a client may take to send a request whole, ms. */
  readonly requestMs?: number;
  /** Told of what failed unforeseen. */
  readonly onFailure?: (error: unknown) => void;
}

export interface Serving {
  /** Address with the token. */
  readonly url: string;
  readonly port: number;
  readonly token: string;
  readonly close: () => Promise<void>;
}

const REQUEST_MS = 20_000;

const builtPage = fileURLToPath(new URL('../../dist-web', import.meta.url));

/**
 * Serves the review page and its interface for one study.
 *
 * @throws InputError when feeders or openings cannot be read; the system's error when the port is taken
 */
export async function serveStudy(study: OpenStudy, options: ServeOptions = {}): Promise<Serving> {
  const { host = '127.0.0.1', token = newToken(), pageFolder = builtPage, requestMs = REQUEST_MS } = options;
  const readOnly = options.readOnly === true || study.readOnly;
  const places = await currentView(study);
  const sounds = soundFiles(study);
  const fits = fitting();
  const stream = eventStream(places.view);
  const server = fastify({
    bodyLimit: 2 ** 21,
    // Who sends a request drop by drop is let go; answers and event streams may last as long as they like.
    requestTimeout: requestMs,
    http: { headersTimeout: requestMs, connectionsCheckingInterval: Math.min(1000, requestMs / 2) },
    forceCloseConnections: true,
    routerOptions: { maxParamLength: 200 },
  });
  let port = 0;
  await server.register(cookie);
  guard(server, { token, host, port: () => port });
  // Within one machine, packing takes longer than sending.
  if (!isLoopback(host)) await server.register(compress, { threshold: 4096, encodings: ['gzip', 'deflate'] });
  server.setErrorHandler((error, _, reply) => {
    const { status, body } = answerTo(error, places.view());
    // Nobody is left to hear of work that was given up.
    const givenUp = (error as Error).name === 'AbortError';
    if (status >= 500 && !givenUp) options.onFailure?.(error);
    return reply.code(status).send(body);
  });
  server.get('/api', () => openApiDocument());
  addRoutes(server, { ...places, files: sounds, fitting: fits, readOnly, announce: stream.announce }, stream);
  await addPage(server, pageFolder);

  const close = async () => {
    stream.close();
    await server.close();
    await sounds.close();
    await fits.close();
  };
  try {
    await server.listen({ host, port: options.port ?? 0 });
  } catch (error) {
    await close();
    throw error;
  }
  port = (server.server.address() as { port: number }).port;
  const named = host === '0.0.0.0' || host === '::' ? '127.0.0.1' : host.includes(':') ? `[${host}]` : host;
  return {
    url: `http://${named}:${port}/?token=${token}`,
    port,
    token,
    close,
  };
}

function isLoopback(host: string): boolean {
  return host === 'localhost' || host === '::1' || host.startsWith('127.');
}

/** The study in the light of its tables, which are read again when they have changed. */
async function currentView(study: OpenStudy) {
  const stampOf = async () => {
    const paths = ['feeders.csv', 'openings.csv'].map((name) => join(study.folder, name));
    const stamps = await Promise.all(
      paths.map((path) =>
        stat(path)
          .then((s) => s.mtimeMs)
          .catch(() => 0),
      ),
    );
    return stamps.join(' ');
  };
  let stamp = await stampOf();
  let view: StudyView = studyView(study, await readPlaces(study));
  return {
    view: () => view,
    refresh: async () => {
      const now = await stampOf();
      if (now === stamp) return;
      view = studyView(study, await readPlaces(study));
      stamp = now;
    },
  };
}

function addRoutes(server: FastifyInstance, context: HandlerContext, stream: Stream): void {
  const handlers = handlersOf(context);
  for (const [name, route] of Object.entries(routes) as [RouteName, RouteShape][]) {
    if (name === 'events') continue;
    const handle = handlers[name] as (asked: Asked<typeof name>) => unknown;
    server.route({
      method: route.method,
      url: route.path,
      handler: async (request, reply) => {
        if (route.writes && context.readOnly) {
          throw new Refusal(403, 'read only', 'this study is served for reading only');
        }
        const gone = new AbortController();
        reply.raw.on('close', () => gone.abort());
        const answer = await handle(checked(route, request, gone.signal) as Asked<typeof name>);
        if (typeof route.answer !== 'string') return reply.header('cache-control', 'no-store').send(answer);
        // The file's bytes never change, so neither do pictures of them.
        const bytes = answer as Uint8Array;
        return reply
          .type(route.answer)
          .header('cache-control', 'private, max-age=3600')
          .send(Buffer.from(bytes.buffer, bytes.byteOffset, bytes.byteLength));
      },
    });
  }
  server.get(routes.events.path, (request, reply) => {
    const headers = reply.getHeaders() as Record<string, string>;
    reply.hijack();
    reply.raw.writeHead(200, {
      ...headers,
      'content-type': 'text/event-stream',
      'cache-control': 'no-store',
    });
    const seen = Number(request.headers['last-event-id']);
    const known = request.headers['last-event-id'] !== undefined && Number.isSafeInteger(seen);
    stream.join(reply.raw, known ? seen : null);
  });
}

function checked(route: RouteShape, request: FastifyRequest, signal: AbortSignal) {
  const part = (name: 'params' | 'query' | 'body') => {
    const result = route[name]?.safeParse(request[name]);
    if (result?.success === false) throw badRequest(name, result.error);
    return result?.data;
  };
  return { params: part('params'), query: part('query'), body: part('body'), signal };
}

/** The page's own files; a clear word in their place where the page has not been built. */
async function addPage(server: FastifyInstance, folder: string): Promise<void> {
  if (!existsSync(join(folder, 'index.html'))) {
    server.get('/', (_, reply) =>
      reply
        .type('text/html')
        .send(
          plainPage('The page has not been built: run npm run build. The interface is described at /api'),
        ),
    );
    return;
  }
  await server.register(files, {
    root: folder,
    cacheControl: false,
    setHeaders: (reply, path) => {
      // Built files carry a hash of their content in their names.
      const lasting = path.includes(`${join(folder, 'assets')}`);
      reply.setHeader('cache-control', lasting ? 'private, max-age=31536000, immutable' : 'no-cache');
    },
  });
}
