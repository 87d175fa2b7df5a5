// Real runs, marked one bench after the other: how far it is, stopping it, what went wrong and where.

import { ask, Away, Refused } from '../lib/api';
import { words } from '../words';
import type { Bench } from './runs';
import type { Mark, MarkedRuns } from './types';

export class Marking {
  marks = $state.raw<Record<string, Mark>>({});
  /** why a bench could not be marked, by its code */
  unmarked = $state.raw<Record<string, string>>({});
  feedback = $state.raw<Record<string, string>>({});
  rows = $state.raw<string[]>([]);
  /** what is wrong with the weights, and with everything else */
  weightsFault = $state('');
  fault = $state('');
  done = $state(0);
  all = $state(0);
  #work = $state.raw<AbortController | null>(null);

  get goes(): boolean {
    return this.#work !== null;
  }

  clear(): void {
    this.marks = this.unmarked = this.feedback = {};
    this.rows = [];
    this.fault = this.weightsFault = '';
    this.done = this.all = 0;
  }

  async mark(sheet: unknown, benches: Bench[], weights: Record<string, number>): Promise<void> {
    const mine = new AbortController();
    this.clear();
    this.#work = mine;
    this.all = benches.length;
    try {
      for (const bench of benches) {
        await this.#one(sheet, bench, weights, mine.signal);
        this.done += 1;
      }
    } catch (problem) {
      if (!(mine.signal.aborted || this.#told(problem))) throw problem;
    } finally {
      this.#work = null;
    }
  }

  stop(): void {
    this.#work?.abort();
  }

  async #one(sheet: unknown, bench: Bench, weights: Record<string, number>, signal: AbortSignal): Promise<void> {
    const { code, files } = bench;
    try {
      const found = await ask<MarkedRuns>('/api/mark-runs', { sheet, benches: [{ code, ...files }], weights }, signal);
      const [head = '', row] = found.shown.table.trim().split(/\r?\n/);
      if (row) this.rows = [...(this.rows.length ? this.rows : [head]), row];
      for (const mark of found.marks) this.marks = { ...this.marks, [code]: mark };
      this.unmarked = { ...this.unmarked, ...found.unmarked };
      this.feedback = { ...this.feedback, ...found.shown.feedback };
    } catch (problem) {
      // what is wrong with one bench must not keep a class from its marks
      if (!(problem instanceof Refused && problem.fault.field.startsWith('benches'))) throw problem;
      this.unmarked = { ...this.unmarked, [code]: problem.fault.message };
    }
  }

  #told(problem: unknown): boolean {
    if (problem instanceof Away) this.fault = words.link.away;
    else if (problem instanceof Refused && problem.fault.field === 'weights') this.weightsFault = problem.fault.message;
    else if (problem instanceof Refused) this.fault = problem.fault.message;
    else return false;
    return true;
  }
}
