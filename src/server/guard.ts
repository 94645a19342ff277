import { createHash, randomBytes, timingSafeEqual } from 'node:crypto';
import { isIP } from 'node:net';
import { hostname } from 'node:os';
import type { FastifyInstance, FastifyReply, FastifyRequest } from 'fastify';

/** A secret that cannot be guessed: 192 random bits, as text for a URL. */
export function newToken(): string {
  return randomBytes(24).toString('base64url');
}

// A figure library makes an empty style element and fills it by script; that one is let in by its hash.
const emptyStyle = `'sha256-${createHash('sha256').update('').digest('base64')}'`;

const contentSecurityPolicy = [
  "default-src 'none'",
  "script-src 'self'",
  `style-src 'self' ${emptyStyle}`,
  // Attributes place and colour marks; they can load nothing that img-src does not allow.
  "style-src-attr 'unsafe-inline'",
  "img-src 'self' data: blob:",
  "connect-src 'self'",
  "media-src 'self' blob:",
  "worker-src 'self'",
  "font-src 'self'",
  "manifest-src 'self'",
  "base-uri 'none'",
  "form-action 'none'",
  "frame-ancestors 'none'",
].join('; ');

/** Headers of every answer: nothing from elsewhere is loaded, nothing is framed, no address is passed on. */
export const securityHeaders: Readonly<Record<string, string>> = {
  'content-security-policy': contentSecurityPolicy,
  'x-content-type-options': 'nosniff',
  'referrer-policy': 'no-referrer',
  'cross-origin-opener-policy': 'same-origin',
  'cross-origin-resource-policy': 'same-origin',
};

export interface GuardOptions {
  readonly token: string;
  /** The name the service was told to listen as. */
  readonly host: string;
  /** Known once it listens. */
  readonly port: () => number;
}

/**
 * Lets in only who has the token: in the address on the first visit, which sets a cookie, later by that cookie, or
 * as a bearer. Requests that name another host (a page elsewhere whose name is made to point here) or come from
 * another page are refused before that.
 */
export function guard(server: FastifyInstance, options: GuardOptions): void {
  const cookieName = () => `combtone-${options.port()}`;
  server.addHook('onRequest', async (request, reply) => {
    reply.headers(securityHeaders);
    if (!isOurHost(request.headers.host, options)) {
      return refuse(reply, 403, 'host', `this service is not called ${request.headers.host ?? 'nothing'}`);
    }
    const { origin } = request.headers;
    if (origin !== undefined && origin !== `http://${request.headers.host}`) {
      return refuse(reply, 403, 'origin', 'only the page that this service serves may ask it');
    }
    if (isFromElsewhere(request)) {
      return refuse(reply, 403, 'site', 'only the page that this service serves may ask it');
    }
    const given = tokenInAddress(request);
    if (given !== null && sameText(given, options.token)) {
      reply.setCookie(cookieName(), options.token, { httpOnly: true, sameSite: 'strict', path: '/' });
      return reply.redirect(request.url.split('?')[0]!, 303);
    }
    const bearer = /^Bearer (.+)$/.exec(request.headers.authorization ?? '')?.[1];
    const shown = bearer ?? request.cookies[cookieName()];
    if (shown !== undefined && sameText(shown, options.token)) return;
    return refuse(reply, 401, 'token', 'open the whole address that combtone review printed, with its token');
  });
}

/**
 * Whether the browser says that another page asked (Fetch Metadata, W3C). Pictures and scripts of other pages come
 * without an Origin, and a page of another port of this machine counts as the same site, cookies and all. To follow a
 * link to the page is another matter.
 */
function isFromElsewhere({ method, headers }: FastifyRequest): boolean {
  const site = headers['sec-fetch-site'];
  if (site === undefined || site === 'same-origin' || site === 'none') return false;
  const isLink =
    method === 'GET' && headers['sec-fetch-mode'] === 'navigate' && headers['sec-fetch-dest'] === 'document';
  return !isLink;
}

function tokenInAddress(request: FastifyRequest): string | null {
  const query = request.query as Readonly<Record<string, unknown>>;
  return request.method === 'GET' && typeof query.token === 'string' ? query.token : null;
}

function isOurHost(header: string | undefined, { host, port }: GuardOptions): boolean {
  const match = /^(\[[0-9a-f:.]+\]|[^:]+)(?::(\d+))?$/i.exec(header ?? '');
  if (match === null || Number(match[2] ?? 80) !== port()) return false;
  const name = match[1]!.toLowerCase();
  // A number is no name that could be made to point here.
  if (isIP(name.replace(/^\[|\]$/g, '')) !== 0) return true;
  return ['localhost', host.toLowerCase(), hostname().toLowerCase()].includes(name);
}

/** Compares in a time that does not tell how much was right. */
function sameText(a: string, b: string): boolean {
  const digest = (text: string) => createHash('sha256').update(text).digest();
  return timingSafeEqual(digest(a), digest(b));
}

/** People get words, programs an error body. */
function refuse(reply: FastifyReply, status: number, error: string, message: string): FastifyReply {
  const wantsPage = reply.request.method === 'GET' && reply.request.headers.accept?.includes('text/html');
  reply.code(status);
  return wantsPage ? reply.type('text/html').send(plainPage(message)) : reply.send({ error, message });
}

/** A page of words alone. @param message trusted, or else without markup */
export function plainPage(message: string): string {
  const safe = message.replaceAll('&', '&amp;').replaceAll('<', '&lt;');
  return `<!doctype html><html lang="en"><meta charset="utf-8"><title>combtone</title><p>${safe}.</p></html>`;
}
