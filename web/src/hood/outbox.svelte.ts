// What was tapped and is not yet on the server's disk: kept here until it is, sent in order, once.
//
// Every start of the page takes a new origin (this device, this start), so that two tabs never give
// the same number twice; an item keeps its origin and number for good, whoever sends it.

import { ask, Away, Refused } from '../lib/api';
import type { Sent } from './types';

const DEVICE = 'forerun.device';
const KEPT = 'forerun.out.';
const SOON = 400; // ms before the first new try; doubled up to LATE
const LATE = 5000;
const NEVER = [400, 404, 413, 422]; // answers that a new try would not change

interface Item extends Sent {
  key: string;
  at: number;
  /** not sent before this moment (UTC ms), so that it can be taken back */
  from: number;
}

function random(letters: number): string {
  const bytes = crypto.getRandomValues(new Uint8Array(letters));
  return Array.from(bytes, (byte) => (byte % 36).toString(36)).join('');
}

function device(): string {
  try {
    const kept = localStorage.getItem(DEVICE) ?? random(8);
    localStorage.setItem(DEVICE, kept);
    return kept;
  } catch {
    return random(8); // a browser that keeps nothing is a new device each time
  }
}

class Outbox {
  waiting = $state.raw<Item[]>([]);
  /** what the server would not take, with its sentence */
  refused = $state<{ says: string; why: string }[]>([]);
  /** false when the browser keeps nothing: then only this open page holds what is not sent */
  kept = $state(true);
  readonly origin = `hand-${device()}-${random(6)}`;
  #sequence = 0;
  #busy = false;
  #timer = 0;
  #pause = SOON;
  #run = '';

  /** Take up what an earlier page left for this run, and begin to send. */
  begin(run: string): void {
    this.#run = run;
    this.#read();
    window.addEventListener('online', this.#now);
    document.addEventListener('visibilitychange', this.#now);
    this.#now();
  }

  end(): void {
    clearTimeout(this.#timer);
    this.#run = '';
    window.removeEventListener('online', this.#now);
    document.removeEventListener('visibilitychange', this.#now);
  }

  /** Keep something and send it; it may be taken back for the given time (ms). */
  put(sent: Sent, holdFor = 0): string {
    this.#sequence += 1;
    const body = { ...sent.body, origin: this.origin, sequence: this.#sequence };
    const at = Date.now();
    const key = `${KEPT}${this.origin}.${String(this.#sequence).padStart(6, '0')}`;
    const item: Item = { ...sent, body, key, at, from: at + holdFor };
    try {
      localStorage.setItem(key, JSON.stringify(item));
    } catch {
      this.kept = false;
    }
    this.waiting = [...this.waiting, item];
    this.#now();
    return key;
  }

  /** Take back what was not sent yet; false when it is too late. */
  takeBack(key: string): boolean {
    const item = this.waiting.find((one) => one.key === key);
    if (!item || Date.now() >= item.from) return false;
    this.#drop(item);
    return true;
  }

  /** The connection is there again: no need to wait. */
  soon(): void {
    this.#pause = SOON;
    this.#now();
  }

  #now = (): void => {
    clearTimeout(this.#timer);
    void this.#send();
  };

  async #send(): Promise<void> {
    const item = this.waiting[0];
    if (this.#busy || !item || !this.#run) return;
    const early = item.from - Date.now();
    if (early > 0) {
      this.#timer = window.setTimeout(this.#now, early);
      return;
    }
    this.#busy = true;
    const went = await this.#one(item);
    this.#busy = false;
    if (went) {
      this.#pause = SOON;
      this.#now();
    } else {
      this.#timer = window.setTimeout(this.#now, this.#pause);
      this.#pause = Math.min(LATE, 2 * this.#pause);
    }
  }

  /** True when the item needs no further try: the server has it, or will never take it. */
  async #one(item: Item): Promise<boolean> {
    try {
      await ask(`/api/runs/${item.run}/${item.path}`, item.body, AbortSignal.timeout(8000));
    } catch (problem) {
      if (problem instanceof Refused && NEVER.includes(problem.status)) this.refused.push({ says: item.says, why: problem.fault.message });
      else if (problem instanceof Away || problem instanceof Refused || problem instanceof DOMException) return false;
      else throw problem;
    }
    this.#drop(item);
    return true;
  }

  #drop(item: Item): void {
    try {
      localStorage.removeItem(item.key);
    } catch {
      this.kept = false;
    }
    this.waiting = this.waiting.filter((one) => one.key !== item.key);
  }

  #read(): void {
    const found: Item[] = [];
    try {
      for (const key of Object.keys(localStorage).filter((name) => name.startsWith(KEPT))) {
        const item = JSON.parse(localStorage.getItem(key) ?? 'null') as Item | null;
        if (item?.run === this.#run) found.push({ ...item, key });
      }
    } catch {
      this.kept = false;
    }
    this.waiting = found.sort((a, b) => a.at - b.at || (a.key < b.key ? -1 : 1));
  }
}

export const outbox = new Outbox();
