// One live run as this device sees it: a picture of it at first, then every event as it comes.
//
// The stream is opened anew from the last reading seen, and the whole run is asked for again after
// each gap: what was missed comes from the server's disk, and nothing is made up in between.

import { ask, Away, Refused } from '../lib/api';
import { outbox } from './outbox.svelte';
import type { Alarm, Entry, Estimate, Instruction, Reading, Run } from './types';

const SILENT = 6000; // ms without a beat (one every 2 s) after which the line counts as dead
const AGAIN = 500; // ms before it is opened anew; doubled up to MOST
const MOST = 2000;
const REDRAW = 250; // ms between redraws, however fast readings come

export class Live {
  state = $state<'joining' | 'there' | 'missing'>('joining');
  run = $state.raw<Run | null>(null);
  readings = $state.raw<Reading[]>([]);
  entries = $state.raw<Entry[]>([]);
  estimate = $state.raw<Estimate | null>(null);
  instruction = $state.raw<Instruction | null>(null);
  alarms = $state.raw<Alarm[]>([]);
  findings = $state.raw<unknown>(null);
  ended = $state<number | null>(null);
  connected = $state(false);
  /** moment of the run, moved on once a second */
  now = $state(0);
  #code = '';
  #clock = { now_s: 0, at: 0 };
  #stream: EventSource | null = null;
  #pause = AGAIN;
  #heard = 0;
  #byNumber = new Map<number, Reading>();
  #entryByNumber = new Map<number, Entry>();
  #last = 0;
  /** kinds of events that came since how it stands was last asked for */
  #fresh = new Set<string>();
  #redraw = 0;
  #timers: number[] = [];

  begin(code: string): () => void {
    this.#code = code;
    void this.#join();
    this.#timers = [window.setInterval(() => this.#tick(), 1000)];
    document.addEventListener('visibilitychange', this.#woken);
    window.addEventListener('online', this.#woken);
    return () => this.#end();
  }

  /** Seconds since the start of the run, at this moment. */
  time(): number {
    const { now_s, at } = this.#clock;
    return Math.max(0, now_s + (performance.now() - at) / 1000);
  }

  #end(): void {
    this.#timers.forEach((timer) => clearTimeout(timer));
    clearTimeout(this.#redraw);
    this.#stream?.close();
    this.#code = '';
    document.removeEventListener('visibilitychange', this.#woken);
    window.removeEventListener('online', this.#woken);
    outbox.end();
  }

  /** Listen first, then ask how it stands: so no event can fall between the two. The code is shown
      each time: a session of later does not know yet whose bench this is. */
  async #join(): Promise<void> {
    try {
      const found = await ask<{ id: string }>(`/api/join/${encodeURIComponent(this.#code)}`);
      const id = this.run?.id ?? found.id;
      if (this.#code) this.#open(id);
    } catch (problem) {
      this.#failed(problem);
    }
  }

  async #catchUp(id: string): Promise<void> {
    this.#fresh.clear();
    try {
      const found = await ask<Run>(`/api/runs/${id}?after=${this.#last}`, undefined, AbortSignal.timeout(8000));
      if (this.#code) this.#take(found);
    } catch (problem) {
      this.#failed(problem);
    }
  }

  #failed(problem: unknown): void {
    if (problem instanceof Refused && problem.status === 404) this.state = 'missing';
    else if (problem instanceof Away || problem instanceof Refused || problem instanceof DOMException) this.#lost();
    else throw problem;
  }

  #take(found: Run): void {
    const first = this.run === null;
    this.run = found;
    this.state = 'there';
    this.#set(found.now_s);
    found.readings.forEach((one) => this.#reading(one));
    found.entries.forEach((one) => this.#entry(one));
    // what came by the stream while this was on its way is newer
    const newer = (kind: string) => this.#fresh.has(kind);
    if (!newer('ended')) this.ended = found.ended_utc_s;
    if (!newer('estimate')) this.estimate = found.estimate;
    if (!newer('instruction')) this.instruction = found.instruction;
    if (!newer('alarm')) this.alarms = found.alarms ?? [];
    if (!newer('findings')) this.findings = found.findings ?? null;
    this.#show();
    if (first) outbox.begin(found.id);
  }

  #open(id: string): void {
    this.#stream?.close();
    const stream = new EventSource(`/api/runs/${id}/live?after=${this.#last}`);
    this.#stream = stream;
    const on = <T>(kind: string, act: (data: T) => void) =>
      stream.addEventListener(kind, (event) => {
        this.#alive();
        this.#fresh.add(kind);
        act(JSON.parse((event as MessageEvent<string>).data) as T);
      });
    stream.onopen = () => {
      this.#alive();
      void this.#catchUp(id);
    };
    stream.onerror = () => this.#lost();
    on<Reading>('reading', (data) => this.#reading(data));
    on<Entry>('entry', (data) => this.#entry(data));
    on<Estimate>('estimate', (data) => (this.estimate = data));
    on<Instruction | null>('instruction', (data) => (this.instruction = data));
    on<Alarm[] | { alarms: Alarm[] }>('alarm', (data) => (this.alarms = Array.isArray(data) ? data : data.alarms));
    on<unknown>('findings', (data) => (this.findings = data));
    on<{ ended_utc_s: number }>('ended', (data) => (this.ended = data.ended_utc_s));
    on<{ now_s: number }>('beat', (data) => this.#set(data.now_s));
  }

  #alive(): void {
    this.#heard = performance.now();
    if (!this.connected) {
      this.connected = true;
      this.#pause = AGAIN;
      outbox.soon();
    }
  }

  #lost(): void {
    this.#stream?.close();
    this.#stream = null;
    this.connected = false;
    this.#later();
  }

  #later(): void {
    const timer = window.setTimeout(() => this.#code && void this.#join(), this.#pause);
    this.#timers = [this.#timers[0] ?? 0, timer];
    this.#pause = Math.min(MOST, 2 * this.#pause);
  }

  #woken = (): void => {
    if (document.visibilityState === 'visible' && this.#stream && performance.now() - this.#heard > SILENT / 2) this.#lost();
  };

  #tick(): void {
    this.now = this.time();
    if (this.#stream && this.connected && performance.now() - this.#heard > SILENT) this.#lost();
  }

  #set(now_s: number): void {
    this.#clock = { now_s, at: performance.now() };
    this.now = now_s;
  }

  #reading(one: Reading): void {
    if (one.corrects) this.#byNumber.delete(one.corrects);
    this.#byNumber.set(one.number, one);
    this.#last = Math.max(this.#last, one.number);
    this.#soon();
  }

  #entry(one: Entry): void {
    if (one.corrects) this.#entryByNumber.delete(one.corrects);
    this.#entryByNumber.set(one.number, one);
    this.#soon();
  }

  #soon(): void {
    this.#redraw ||= window.setTimeout(() => this.#show(), REDRAW);
  }

  #show(): void {
    clearTimeout(this.#redraw);
    this.#redraw = 0;
    this.readings = [...this.#byNumber.values()].sort((a, b) => a.time_s - b.time_s || a.number - b.number);
    this.entries = [...this.#entryByNumber.values()].sort((a, b) => a.number - b.number);
  }
}


