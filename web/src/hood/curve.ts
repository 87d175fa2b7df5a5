// Preparing what the curve at the hood draws: points of readings, gaps between them, the fan.

import type { Kind } from './latest';
import { momentOf, spoken } from './log';
import type { Entry, Reading } from './types';

export interface Dot {
  x: number; // min
  y: number;
  doubtful: boolean;
}

const FEWEST_GAP_S = 120; // a silence that is worth a word, whatever the usual interval
const TIMES = 4; // usual intervals that make a gap

/** Readings of a kind as points, in the unit that is drawn; thinned to about `most`, ends kept. */
export function dots(readings: Reading[], kind: Kind, put: (value: number) => number, most: number): Dot[] {
  const found: Dot[] = [];
  for (const one of readings) {
    const value = one[kind];
    if (typeof value === 'number' && Number.isFinite(value)) found.push({ x: one.time_s / 60, y: put(value), doubtful: Boolean(one.flags?.length) });
  }
  const step = Math.ceil(found.length / most);
  return step > 1 ? found.filter((dot, k) => dot.doubtful || (found.length - 1 - k) % step === 0) : found;
}

/** Stretches (s) in which nothing was read, the one up to now among them. */
export function gaps(readings: Reading[], now: number): { from: number; to: number }[] {
  const times = readings.map((one) => one.time_s);
  if (times.length < 2) return [];
  const steps = times.slice(1).map((time, k) => time - (times[k] ?? 0)).sort((a, b) => a - b);
  const usual = steps[Math.floor(steps.length / 2)] ?? 0;
  const least = Math.max(FEWEST_GAP_S, TIMES * usual);
  return [...times, Math.max(now, times[times.length - 1] ?? 0)]
    .slice(1)
    .map((to, k) => ({ from: times[k] ?? 0, to }))
    .filter(({ from, to }) => to - from > least);
}

/** The lowest and highest of what is drawn, on round numbers; doubtful points do not stretch it. */
export function bounds(values: (number | null)[], step: number, least: number): [number, number] {
  let [low, high] = [Infinity, -Infinity];
  for (const value of values) {
    if (value === null || !Number.isFinite(value)) continue;
    low = Math.min(low, value);
    high = Math.max(high, value);
  }
  if (low > high) return [0, least];
  low = Math.floor(low / step) * step;
  return [low, Math.max(low + least, Math.ceil(high / step) * step)];
}

export interface TableRow {
  key: string;
  time_s: number;
  read: Reading | null;
  said: string;
}

/** The newest readings, notes, oddities and changes of bottle, the newest first. */
export function tableRows(readings: Reading[], entries: Entry[], most: number): TableRow[] {
  const read = readings.map((one): TableRow => ({ key: `r${one.number}`, time_s: one.time_s, read: one, said: '' }));
  const told = entries.map((one): TableRow => ({ key: `e${one.number}`, time_s: momentOf(one), read: null, said: spoken(one) }));
  return [...read, ...told.filter((row) => row.said)].sort((a, b) => b.time_s - a.time_s).slice(0, most);
}
