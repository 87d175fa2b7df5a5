// The sheet that is being written: kept from the first keystroke, every step can be undone.

import { ask } from '../lib/api';
import { fromLink, numberIn } from '../lib/link';
import type { Sheet, SwitchRow } from '../types';
import { emptySheet, tidySheet } from './tidy';

const KEY = 'forerun.sheet';
const STEPS = 'forerun.steps';
const PAUSE = 400; // ms without a keystroke that end a step
const MOST_STEPS = 100;

class Book {
  sheet = $state<Sheet>(emptySheet());
  past = $state<string[]>([]);
  future = $state<string[]>([]);
  /** counts sheets that were put in whole, so that whoever remembers a start begins anew */
  fresh = $state(0);
  note = $state('');
  /** the field in which somebody is writing: what is wrong with it waits until it is left */
  typing = $state('');
  /** under which the sheet is kept in the list of one's own; null when it is not */
  number = $state<number | null>(null);
  /** whether what the browser or the link holds has been taken */
  begun = false;
  #last = '';
  #timer = 0;

  /** Take what the link or the browser holds, else the worked example. */
  async begin(demo: unknown, brokenLink: string, missing: string): Promise<void> {
    let found: unknown = null;
    try {
      found = await fromLink(location.hash);
    } catch {
      this.note = brokenLink;
    }
    const own = numberIn(location.hash);
    if (own !== null) {
      try {
        found = (await ask<{ sheet: unknown }>('/api/kept/open', { number: own })).sheet;
        this.number = own;
      } catch {
        this.note = missing;
      }
    }
    const kept = found === null ? read(KEY) : null;
    this.past = (read(STEPS) as string[] | null) ?? [];
    this.sheet = tidySheet(found ?? kept ?? demo);
    this.#last = JSON.stringify(this.sheet);
    this.begun = true;
  }

  /** Called whenever anything in the sheet has changed: keeps it, and ends a step after a pause. */
  touched(text: string): void {
    if (text === this.#last) return;
    write(KEY, text);
    clearTimeout(this.#timer);
    this.#timer = window.setTimeout(() => this.endStep(), PAUSE);
  }

  endStep(): void {
    clearTimeout(this.#timer);
    const text = JSON.stringify(this.sheet);
    if (!this.#last || text === this.#last) return;
    this.past = [...this.past, this.#last].slice(-MOST_STEPS);
    this.future = [];
    this.#last = text;
    write(STEPS, JSON.stringify(this.past.slice(-20)));
  }

  undo(): void {
    this.endStep();
    const text = this.past.at(-1);
    if (text === undefined) return;
    this.past = this.past.slice(0, -1);
    this.future = [...this.future, this.#last];
    this.#show(text);
  }

  redo(): void {
    const text = this.future.at(-1);
    if (text === undefined) return;
    this.future = this.future.slice(0, -1);
    this.past = [...this.past, this.#last];
    this.#show(text);
  }

  /** Put a whole sheet in; the one before can be had back by undo. */
  put(raw: unknown, number: number | null = null): void {
    this.number = number;
    this.endStep();
    this.sheet = tidySheet(raw);
    this.fresh += 1;
    this.endStep();
    write(KEY, this.#last);
  }

  /** A receiver is changed at another moment; the step ends when the finger lifts. */
  moveSwitch(n: number, row: SwitchRow, last: boolean): void {
    this.sheet.switch = this.sheet.switch.map((old, k) => (k === n ? row : old));
    if (last) this.endStep();
  }

  #show(text: string): void {
    this.sheet = JSON.parse(text) as Sheet;
    this.fresh += 1;
    this.#last = text;
    write(KEY, text);
  }
}

function read(key: string): unknown {
  try {
    return JSON.parse(localStorage.getItem(key) ?? 'null');
  } catch {
    return null; // what another version or a full disk left behind is no reason to stop
  }
}

function write(key: string, text: string): void {
  try {
    localStorage.setItem(key, text);
  } catch {
    return; // a browser that keeps nothing still shows the sheet
  }
}

export const book = new Book();
