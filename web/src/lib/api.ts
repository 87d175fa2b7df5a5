// Asking the program on this machine.

import type { Fault } from '../types';

export class Refused extends Error {
  constructor(
    readonly fault: Fault,
    readonly status = 422,
  ) {
    super(fault.message);
  }
}

/** The program does not answer: it is being restarted, or was stopped. */
export class Away extends Error {}

async function send(path: string, body: unknown, signal: AbortSignal, accept: string): Promise<Response> {
  try {
    return await fetch(path, {
      method: body === undefined ? 'GET' : 'POST',
      headers: body === undefined ? { accept } : { accept, 'content-type': 'application/json' },
      body: body === undefined ? null : JSON.stringify(body),
      signal,
    });
  } catch (problem) {
    if (signal.aborted) throw problem;
    throw new Away();
  }
}

export async function ask<T>(path: string, body?: unknown, signal?: AbortSignal): Promise<T> {
  const response = await send(path, body, signal ?? new AbortController().signal, 'application/json');
  return read<T>(response);
}

async function read<T>(response: Response): Promise<T> {
  const found = await response.json().catch(() => {
    throw new Away();
  });
  if (found?.error) throw new Refused(found.error as Fault, response.status);
  return found as T;
}

/** Long work: tells how far it is; closing (the signal) stops it on the other side too. */
export async function follow<T>(
  path: string,
  body: unknown,
  signal: AbortSignal,
  progress: (done: number, all: number) => void,
): Promise<T> {
  const response = await send(path, body, signal, 'text/event-stream');
  if (!response.headers.get('content-type')?.startsWith('text/event-stream') || !response.body) {
    return read<T>(response);
  }
  const reader = response.body.pipeThrough(new TextDecoderStream()).getReader();
  let kept = '';
  for (;;) {
    const { done, value } = await reader.read().catch((problem: unknown) => {
      if (signal.aborted) throw problem;
      throw new Away();
    });
    if (done) throw new Away();
    kept += value;
    let end = kept.indexOf('\n\n');
    while (end >= 0) {
      const [kind, data] = parts(kept.slice(0, end));
      kept = kept.slice(end + 2);
      if (kind === 'progress') progress(data.done as number, data.total as number);
      else if (kind === 'error') throw new Refused(data.error as Fault);
      else if (kind === 'result') return data as T;
      end = kept.indexOf('\n\n');
    }
  }
}

function parts(text: string): [string, Record<string, unknown>] {
  const lines = text.split('\n');
  const kind = lines.find((line) => line.startsWith('event: '))?.slice(7) ?? '';
  const data = lines.filter((line) => line.startsWith('data: ')).map((line) => line.slice(6));
  return [kind, JSON.parse(data.join('\n'))];
}
