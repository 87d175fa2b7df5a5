// A question whose answer takes a while: how far it is, stopping it, and what went wrong in words.

import { words } from '../words';
import { Away, follow, Refused } from './api';

export class Lasting<T> {
  found = $state.raw<T | null>(null);
  /** why there is no answer; empty while nothing went wrong */
  fault = $state('');
  /** whether it was stopped by hand */
  stopped = $state(false);
  done = $state(0);
  all = $state(0);
  #work = $state.raw<AbortController | null>(null);

  get goes(): boolean {
    return this.#work !== null;
  }

  /** Forget the last answer and what went wrong. */
  clear(): void {
    this.found = null;
    this.fault = '';
    this.stopped = false;
    this.done = this.all = 0;
  }

  async ask(path: string, body: unknown): Promise<void> {
    const mine = new AbortController();
    this.clear();
    this.#work = mine;
    try {
      this.found = await follow<T>(path, body, mine.signal, (done, all) => {
        this.done = done;
        this.all = all;
      });
    } catch (problem) {
      if (mine.signal.aborted) this.stopped = true;
      else if (problem instanceof Refused) this.fault = problem.fault.message;
      else if (problem instanceof Away) this.fault = words.link.away;
      else throw problem;
    } finally {
      this.#work = null;
    }
  }

  stop(): void {
    this.#work?.abort();
  }
}
