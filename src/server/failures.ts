import type { z } from 'zod';
import { InputError } from '../input-error.ts';
import { LostRace, NothingToUndo } from '../study/store/edit.ts';
import { storeFault } from '../study/store/store-fault.ts';
import { rowsInView, type StudyView } from '../study/study-view.ts';

/** An answer that is not 200. */
export class Refusal extends Error {
  readonly status: number;
  readonly error: string;

  constructor(status: number, error: string, message: string) {
    super(message);
    this.status = status;
    this.error = error;
  }
}

export function notFound(what: string): Refusal {
  return new Refusal(404, 'not found', `there is no ${what}`);
}

/** What a schema would not take, in words. */
export function badRequest(where: string, { issues }: z.ZodError): Refusal {
  const [first] = issues;
  const place = [where, ...(first?.path ?? [])].join('.');
  return new Refusal(400, 'bad request', `${place}: ${first?.message ?? 'not as described'}`);
}

/** Status and body for whatever went wrong. What nobody foresaw is not told to the client. */
export function answerTo(error: unknown, view: StudyView): { status: number; body: object } {
  if (error instanceof LostRace) {
    const rows = rowsInView(view, error.soundIds, error.danceIds);
    return { status: 409, body: { error: 'conflict', message: error.message, ...rows } };
  }
  if (error instanceof NothingToUndo) {
    return { status: 409, body: { error: 'nothing', message: error.message } };
  }
  if (error instanceof Refusal) {
    return { status: error.status, body: { error: error.error, message: error.message } };
  }
  if (error instanceof InputError)
    return { status: 400, body: { error: 'bad input', message: error.message } };
  const { statusCode, message } = error as { statusCode?: number; message?: string };
  if (statusCode !== undefined && statusCode >= 400 && statusCode < 500) {
    return { status: statusCode, body: { error: 'bad request', message: message ?? 'refused' } };
  }
  const fault = storeFault(error);
  if (fault !== null) return { status: 503, body: { error: 'not done', message: fault } };
  return { status: 500, body: { error: 'failed', message: 'the service failed; its terminal says why' } };
}
