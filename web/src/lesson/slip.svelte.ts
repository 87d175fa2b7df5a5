// A student's hidden run on this device: what the server told, and what is not handed in yet.

import { ask, Away, Refused } from '../lib/api';
import { words as shared } from '../words';
import type { Own, Said } from './hidden';

const TICKET = 'forerun.slip';
const DRAFT = 'forerun.slip.draft';

interface Draft {
  code: string;
  said: Said;
  plan: unknown;
  log: string;
}

export class Slip {
  own = $state.raw<Own | null>(null);
  said = $state<Said>({});
  /** the sheet that was driven; null while the log is that of the class */
  plan = $state.raw<unknown>(null);
  /** the log as it stands on the page */
  log = $state('');
  /** a file that is handed in as the log instead */
  other = $state.raw<{ name: string; text: string } | null>(null);
  fault = $state('');
  /** the field that the fault is about */
  field = $state('');
  busy = $state<'' | 'open' | 'run' | 'hand'>('');
  /** what was done last, beside which its fault is told */
  last = $state<'' | 'open' | 'run' | 'hand'>('');
  ticket = $state('');

  constructor() {
    this.ticket = kept(TICKET) ?? '';
  }

  async open(): Promise<void> {
    await this.#told('open', async () => {
      const own = await ask<Own>('/api/hidden/open', { ticket: this.ticket });
      keep(TICKET, this.ticket);
      const draft = draftOf(own.code);
      this.said = draft?.said ?? own.answer ?? {};
      this.plan = draft ? draft.plan : own.plan;
      this.log = draft?.log || own.readings;
      this.other = !draft && own.answer && !own.as_dealt && !own.plan ? { name: 'log.csv', text: own.readings } : null;
      this.own = own;
    });
  }

  /** Called whenever something was written: it stands again after the page was closed. */
  remember(): void {
    if (this.own) keep(DRAFT, JSON.stringify({ code: this.own.code, said: this.said, plan: this.plan, log: this.log } satisfies Draft));
  }

  async run(sheet: unknown): Promise<void> {
    await this.#told('run', async () => {
      this.log = (await ask<{ readings: string }>('/api/hidden/run', { ticket: this.ticket, sheet })).readings;
      this.plan = sheet;
      this.other = null;
    });
  }

  /** The run as it was dealt, which the server has even where another was handed in. */
  async asDealt(): Promise<void> {
    if (!this.own) return;
    const sheet = this.own.sheet;
    await this.run(sheet);
    if (!this.fault) this.plan = null;
  }

  async hand(): Promise<void> {
    await this.#told('hand', async () => {
      const answer = Object.fromEntries(Object.entries($state.snapshot(this.said)).filter(([, text]) => text?.trim()));
      await ask('/api/hidden/hand-in', {
        ticket: this.ticket, answer, ...(this.plan ? { sheet: this.plan } : {}), ...(this.other ? { readings: this.other.text } : {}),
      });
      this.own = await ask<Own>('/api/hidden/open', { ticket: this.ticket });
      keep(DRAFT, '');
    });
  }

  leave(): void {
    keep(TICKET, '');
    keep(DRAFT, '');
    this.own = this.other = null;
    this.ticket = this.fault = this.field = '';
  }

  async #told(what: 'open' | 'run' | 'hand', act: () => Promise<void>): Promise<void> {
    this.fault = this.field = '';
    this.busy = this.last = what;
    try {
      await act();
    } catch (problem) {
      if (problem instanceof Refused) {
        this.fault = problem.fault.message;
        this.field = problem.fault.field;
      } else if (problem instanceof Away) this.fault = shared.link.away;
      else throw problem;
    } finally {
      this.busy = '';
    }
  }
}

function draftOf(code: string): Draft | null {
  try {
    const draft = JSON.parse(kept(DRAFT) || 'null') as Draft | null;
    return draft?.code === code ? draft : null;
  } catch {
    return null; // what another version left behind is no reason to stop
  }
}

// of this tab alone: the next student at the same device begins anew
function kept(key: string): string | null {
  try {
    return sessionStorage.getItem(key);
  } catch {
    return null;
  }
}

function keep(key: string, text: string): void {
  try {
    sessionStorage.setItem(key, text);
  } catch {
    return; // a browser that keeps nothing still shows the run
  }
}
