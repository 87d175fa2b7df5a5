// The log of a run as a table that `forerun review` and the planning page read.

import { csvOf, type Cell } from '../lib/save';
import { celsius } from '../lib/units';
import type { Entry, Reading } from './types';
import { words } from './words';

export const LARGEST = 480_000; // characters that a review takes beside a sheet
const HEAD = ['time_s', 'head_C', 'pot_C', 'bath_C', 'pressure_mbar', 'distillate_mL', 'distillate_g', 'remark'];

/** A remark is one line: whoever reads a log reads it line by line. */
const oneLine = (text: unknown): string => String(text ?? '').replace(/[\s\x1c-\x1e\x85]+/g, ' ').trim();

/** What an entry says in a log or a table; empty for what belongs in neither. */
export function spoken(entry: Entry): string {
  if (entry.kind === 'switched') return words.tap.saysSwitched(Number(entry.data.receiver));
  return entry.kind === 'note' || entry.kind === 'odd' ? oneLine(entry.data.text) : '';
}

/** When it was said (s of the run), as its writer or the server has it. */
export function momentOf(entry: Entry): number {
  return Number(entry.data.time_s ?? entry.time_s ?? 0);
}

const cut = (value: number | null | undefined, digits: number): Cell => (value == null ? null : Number(value.toFixed(digits)));

function row(one: Reading): Cell[] {
  const degrees = [one.head_K, one.pot_K, one.bath_K].map((kelvin) => cut(kelvin == null ? null : celsius(kelvin), 2));
  const pressure = one.pressure_Pa == null ? null : one.pressure_Pa / 100;
  const [volume, mass] = [one.distillate_m3, one.distillate_kg].map((si, k) => (si == null ? null : si * (k ? 1e3 : 1e6)));
  return [cut(one.time_s, 1), ...degrees, cut(pressure, 3), cut(volume, 3), cut(mass, 3), oneLine(one.remark)];
}

/** What no later line replaces. */
function standing<T extends { number: number; corrects?: number | null }>(list: T[]): T[] {
  const gone = new Set(list.map((one) => one.corrects));
  return list.filter((one) => !gone.has(one.number));
}

/** Every `each`-th reading, and every note, oddity and change of receiver, in order of time. */
export function logOf(readings: Reading[], entries: Entry[], each = 1): string {
  const kept = standing(readings);
  const read = kept.filter((_, k) => (kept.length - 1 - k) % each === 0).map(row);
  const said = standing(entries).filter((entry) => spoken(entry)).map((entry): Cell[] => [cut(momentOf(entry), 1), ...Array<Cell>(6).fill(null), spoken(entry)]);
  return csvOf(HEAD, [...read, ...said].sort((a, b) => Number(a[0]) - Number(b[0])));
}

/** The same, short enough for a review; and which readings it holds. */
export function logForReview(readings: Reading[], entries: Entry[]): { text: string; each: number } {
  const each = Math.ceil(logOf(readings, entries).length / LARGEST);
  return { text: logOf(readings, entries, each), each };
}
