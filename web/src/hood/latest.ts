// What the numbers at the hood show: the newest reading of each kind, and how old it is.

import type { Band, Entry, Estimate, Reading } from './types';

export interface Latest {
  value: number;
  time_s: number;
}

export type Kind = 'head_K' | 'pot_K' | 'bath_K' | 'pressure_Pa' | 'distillate_m3' | 'distillate_kg';

export const STALE = 60; // s after which a number is shown with its age

/** The newest value of a kind that no check has flagged. */
export function latest(readings: Reading[], kind: Kind): Latest | null {
  for (let k = readings.length - 1; k >= 0; k--) {
    const one = readings[k];
    const value = one?.[kind];
    if (one && typeof value === 'number' && Number.isFinite(value) && !one.flags?.length) return { value, time_s: one.time_s };
  }
  return null;
}

const NORMAL = 760; // mmHg
const NEAR = [660, 860]; // mmHg: the rule is made for the neighbourhood of one atmosphere
const MMHG = 133.322387415; // Pa

/** The head at 760 mmHg by the rule of Sydney Young (as reviewing/standard_pressure.py, for liquids
 *  that do not associate); null where the pressure is not measured or too far off. */
export function headAtNormal(head_K: number, pressure_Pa: number | null): number | null {
  if (pressure_Pa === null) return null;
  const p = pressure_Pa / MMHG;
  if (p < (NEAR[0] ?? 0) || p > (NEAR[1] ?? 0)) return null;
  return head_K + 0.00012 * (NORMAL - p) * head_K;
}

/** The value of a line of the fan at a moment; null outside of it. */
export function along(times: number[], values: (number | null)[], at: number): number | null {
  for (let k = 1; k < times.length; k++) {
    const [a, b] = [times[k - 1] ?? 0, times[k] ?? 0];
    const [u, v] = [values[k - 1], values[k]];
    if (at < a || at > b || u == null || v == null) continue;
    return b > a ? u + ((at - a) / (b - a)) * (v - u) : v;
  }
  return null;
}

export function distillateNow(readings: Reading[], estimate: Estimate | null, now: number): { value: number; measured: Latest | null } | null {
  const measured = latest(readings, 'distillate_m3');
  if (measured) return { value: measured.value, measured };
  const fan = estimate?.fan;
  const value = fan?.distillate_volume_m3 ? along(fan.time_s, fan.distillate_volume_m3.p50, now) : null;
  return value === null ? null : { value, measured: null };
}

export interface Rate {
  drops: number;
  over_s: number;
  time_s: number;
}

/** The last count of drops. */
export function lastDrops(entries: Entry[]): Rate | null {
  const found = entries.findLast((one) => one.kind === 'drops');
  if (!found) return null;
  const { count, over_s, time_s } = found.data as { count?: number; over_s?: number; time_s?: number };
  if (!count || !over_s) return null;
  return { drops: count, over_s, time_s: time_s ?? found.time_s ?? 0 };
}

/** Which receiver stands under the adapter: one more than bottles that were taken away. */
export function receiverNow(entries: Entry[]): number {
  const taken = entries.filter((one) => one.kind === 'switched').map((one) => Number(one.data.receiver));
  return Math.max(0, ...taken.filter((n) => Number.isFinite(n))) + 1;
}

/** The answer that was given to an instruction, in this run. */
export function answered(entries: Entry[], instruction: string): string | null {
  const found = entries.findLast((one) => one.kind === 'answer' && one.data.instruction === instruction);
  return found ? String(found.data.answer) : null;
}

export const middle = (band: Band | number | null | undefined): number | null =>
  Array.isArray(band) ? band[1] : (band ?? null);
