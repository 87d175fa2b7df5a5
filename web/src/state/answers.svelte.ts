// What the program on this machine makes of the sheet: the run at once, bands and verdict after.

import { ask, Away, follow, Refused } from '../lib/api';
import type { Advice, Fault, Foresight, Look, Mix, Sheet } from '../types';
import { questionOf, title } from './asked';
import { book } from './sheet.svelte';
import { sentSheet } from './tidy';

const POINTS = 320; // of the trace: more than a wide screen shows
const MEMBERS = 48;
const TYPED = 250; // ms without a keystroke before what is being written is sent
const REST = 450; // ms without a change before bands are drawn
const CURVE = 61;

export interface Pin {
  id: number;
  sheet: Sheet;
  found: Foresight;
}

class Answers {
  found = $state.raw<Foresight | null>(null);
  mix = $state.raw<Mix | null>(null);
  pairMix = $state.raw<Mix | null>(null);
  pair = $state<[string, string] | null>(null);
  looks = $state.raw<Record<string, Look>>({});
  advice = $state.raw<Advice | null>(null);
  adviceFault = $state.raw<Fault | null>(null);
  advising = $state<{ done: number; all: number } | null>(null);
  adviceStopped = $state(false);
  fault = $state.raw<Fault | null>(null);
  /** places of the fault's field as rows of the page */
  places = $state.raw<{ charge: number[]; switch: number[] }>({ charge: [], switch: [] });
  busy = $state(false);
  empty = $state(false);
  /** what the sheet still has to say before anything can be reckoned */
  question = $state('');
  away = $state(false);
  bands = $state<{ done: number; all: number } | null>(null);
  bandsStopped = $state(false);
  pins = $state.raw<Pin[]>([]);
  /** ms from the last change of the sheet to the run that answers it */
  took = $state(0);

  #next: Sheet | null = null;
  #latest: Sheet | null = null;
  #again = 0;
  #typed = 0;
  #running = false;
  #timer = 0;
  #stopBands: AbortController | null = null;
  #stopAdvice: AbortController | null = null;
  #mixKey = '';
  #pairKey = '';
  #looked = new Map<string, Look>();
  #pinned = 0;

  /** Follow the sheet: the latest is always answered, those in between may be left out. */
  follow(sheet: Sheet, typing = false): void {
    this.#latest = sheet;
    clearTimeout(this.#again);
    clearTimeout(this.#typed);
    this.#typed = 0;
    this.#quiet();
    if (!typing) return this.#take(sheet);
    this.busy = true;
    this.#typed = window.setTimeout(() => this.#take(sheet), TYPED);
  }

  #take(sheet: Sheet): void {
    this.#typed = 0;
    this.#next = sheet;
    if (!this.#running) void this.#go();
  }

  async #go(): Promise<void> {
    this.#running = true;
    while (this.#next) {
      const sheet = this.#next;
      this.#next = null;
      await this.#once(sheet);
    }
    this.#running = false;
    this.busy = this.#typed !== 0;
  }

  async #once(sheet: Sheet): Promise<void> {
    const sent = sentSheet(sheet);
    this.empty = (sent.table.charge as unknown[]).length === 0;
    if (this.empty) {
      this.found = this.mix = this.pairMix = this.advice = this.fault = null;
      this.#mixKey = this.#pairKey = this.question = '';
      return;
    }
    this.question = questionOf(sheet);
    if (this.question) {
      this.fault = null;
      return;
    }
    const start = performance.now();
    this.busy = true;
    try {
      const found = await ask<Foresight>('/api/foresee', { sheet: sent.table, points: POINTS });
      this.found = found;
      this.fault = null;
      this.took = performance.now() - start;
      this.#here();
      if (!this.#next && !this.#typed) this.#later(sent.table, found);
    } catch (problem) {
      this.#failed(problem, sent);
    }
  }

  #failed(problem: unknown, sent: { charge: number[]; switch: number[] }): void {
    if (problem instanceof Refused) {
      this.#here();
      this.places = sent;
      this.fault = problem.fault;
    } else if (problem instanceof Away) {
      this.away = true;
      clearTimeout(this.#again);
      this.#again = window.setTimeout(() => this.#latest && this.follow(this.#latest), 1000);
    } else {
      throw problem;
    }
  }

  #here(): void {
    this.away = false;
  }

  #quiet(): void {
    clearTimeout(this.#timer);
    this.#stopBands?.abort();
    this.#stopAdvice?.abort();
    this.bands = null;
    this.advising = null;
    this.adviceStopped = false;
  }

  #later(table: unknown, found: Foresight): void {
    void this.#lookUp(found);
    this.bandsStopped = false;
    this.#timer = window.setTimeout(async () => {
      await this.drawBands(table);
      if (!this.#next && !this.#running) await this.askAdvice(table);
    }, REST);
  }

  async drawBands(table: unknown): Promise<void> {
    const stop = new AbortController();
    this.#stopBands = stop;
    this.bandsStopped = false;
    this.bands = { done: 0, all: MEMBERS };
    try {
      const body = { sheet: table, points: POINTS, members: MEMBERS };
      this.found = await follow<Foresight>('/api/foresee', body, stop.signal, (done, all) => {
        this.bands = { done, all };
      });
    } catch (problem) {
      if (problem instanceof Refused) this.fault = problem.fault;
      else if (problem instanceof Away && !stop.signal.aborted && this.#latest) {
        this.away = true;
        this.#again = window.setTimeout(() => this.#latest && this.follow(this.#latest), 1000);
      }
    } finally {
      if (this.#stopBands === stop) this.bands = null;
    }
  }

  stopBands(): void {
    this.#stopBands?.abort();
    this.bands = null;
    this.bandsStopped = true;
  }

  async askAdvice(table: unknown): Promise<void> {
    const stop = new AbortController();
    this.#stopAdvice = stop;
    this.advising = { done: 0, all: 0 };
    this.adviceStopped = false;
    try {
      this.advice = await follow<Advice>('/api/advise', { sheet: table }, stop.signal, (done, all) => {
        this.advising = { done, all };
      });
      this.adviceFault = null;
    } catch (problem) {
      if (problem instanceof Refused) {
        this.adviceFault = problem.fault;
        this.advice = null;
      }
    } finally {
      if (this.#stopAdvice === stop) this.advising = null;
    }
  }

  stopAdvice(): void {
    this.#stopAdvice?.abort();
    this.advising = null;
    this.adviceStopped = true;
  }

  async #lookUp(found: Foresight): Promise<void> {
    const names = found.shown.charge.map((row) => row.substance);
    const at = `${Number(found.shown.rig.lowest_pressure_Pa.toPrecision(7))} Pa`;
    const key = JSON.stringify([names, at]);
    if (key === this.#mixKey) return;
    this.#mixKey = key;
    try {
      await Promise.all(names.map((name) => this.#lookAt(name, at)));
      this.looks = Object.fromEntries(names.map((name) => [name, this.#looked.get(`${name} ${at}`) as Look]));
      const order = [...names].sort((a, b) => this.#boils(a) - this.#boils(b));
      if (names.length < 2 || names.length > 5) {
        this.mix = this.pairMix = null;
        this.pair = null;
        return;
      }
      const body = names.length === 2 ? { substances: order, pressure: at, curve: CURVE } : { substances: names, pressure: at, drawn: names.length === 3 };
      const mix = await ask<Mix>('/api/mix', body);
      if (this.#mixKey !== key) return;
      this.mix = mix;
      const still = this.pair && this.pair.every((name) => names.includes(name));
      const pair = still ? (this.pair as [string, string]) : ([order[0], order[1]] as [string, string]);
      await this.choosePair(pair, at);
    } catch (problem) {
      this.#mixKey = '';
      if (!(problem instanceof Refused || problem instanceof Away)) throw problem;
    }
  }

  #boils(name: string): number {
    return this.looks[name]?.at.boiling_point_K ?? 0;
  }

  async #lookAt(name: string, at: string): Promise<void> {
    const key = `${name} ${at}`;
    if (!this.#looked.has(key)) this.#looked.set(key, await ask<Look>('/api/look', { substance: name, pressure: at }));
  }

  async choosePair(pair: [string, string], pressure?: string): Promise<void> {
    this.pair = pair;
    if (this.mix?.curve && this.mix.components.every((name) => pair.includes(name))) {
      this.pairMix = this.mix;
      return;
    }
    const at = pressure ?? `${this.mix?.pressure_Pa ?? 101325} Pa`;
    const key = JSON.stringify([pair, at]);
    if (key === this.#pairKey && this.pairMix) return;
    this.#pairKey = key;
    const found = await ask<Mix>('/api/mix', { substances: pair, pressure: at, curve: CURVE });
    if (this.#pairKey === key) this.pairMix = found;
  }

  pin(sheet: Sheet): void {
    if (!this.found || this.pins.length >= 4) return;
    this.#pinned += 1;
    this.pins = [...this.pins, { id: this.#pinned, sheet, found: this.found }];
  }

  unpin(id: number): void {
    this.pins = this.pins.filter((pin) => pin.id !== id);
  }
}

export const answers = new Answers();

/** What is wrong with a field of the page; empty when nothing is. */
export function faultAt(field: string): string {
  const fault = answers.fault;
  if (!fault || (field && book.typing === field)) return '';
  return pageField(fault.field) === field ? fault.accepted : '';
}

/** Whether the fault is of the field in which somebody is writing. */
export function stillWriting(): boolean {
  return answers.fault !== null && book.typing !== '' && pageField(answers.fault.field).startsWith(book.typing);
}

/** What is wrong, in the words of the page; while the field is being written in, what is to come. */
export function faultSentence(): string {
  const fault = answers.fault;
  if (!fault) return '';
  const field = pageField(fault.field);
  const named = title(field, book.sheet);
  if (stillWriting()) return `${named}?`;
  return fault.message.startsWith(`${fault.field}:`) ? named + fault.message.slice(fault.field.length) : fault.message;
}

/** charge[2].amount counts the rows that were sent; the page counts those that it shows. */
function pageField(field: string): string {
  const match = /^(charge|switch)\[(\d+)\](.*)$/.exec(field);
  if (!match) return field;
  const rows = answers.places[match[1] as 'charge' | 'switch'];
  const row = rows[Number(match[2]) - 1];
  return row === undefined ? field : `${match[1]}[${row + 1}]${match[3]}`;
}
