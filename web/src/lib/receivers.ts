// What receivers hold when their switches are moved: worked out from the trace at hand, so that
// it moves with the finger; the program on this machine confirms it when the finger lifts.

import type { Foresight } from '../types';

export interface Flow {
  names: string[];
  time: number[];
  volume: number[]; // m3
  head: (number | null)[];
  /** moles of each substance that have come over, at each point of the trace */
  moles: number[][];
  charged: number[];
}

export function flowOf(found: Foresight): Flow {
  const names = Object.keys(found.ledger.charge_mol);
  const molar = found.shown.charge.map((row) => row.volume_m3 / row.amount_mol);
  const { time_s, distillate_volume_m3, head_temperature_K, distillate_mole_fraction } = found.trace;
  const fractions = names.map((name) => distillate_mole_fraction[name] ?? []);
  const moles = names.map(() => [0]);
  for (let k = 1; k < time_s.length; k++) {
    const step = (distillate_volume_m3[k] ?? 0) - (distillate_volume_m3[k - 1] ?? 0);
    const mean = fractions.map((x) => 0.5 * ((x[k - 1] ?? x[k] ?? 0) + (x[k] ?? 0)));
    const per = mean.reduce((sum, x, i) => sum + x * (molar[i] ?? 0), 0);
    const total = per > 0 ? step / per : 0;
    moles.forEach((row, i) => row.push((row[k - 1] ?? 0) + total * (mean[i] ?? 0)));
  }
  const charged = names.map((name) => found.ledger.charge_mol[name] ?? 0);
  return { names, time: time_s, volume: distillate_volume_m3, head: head_temperature_K, moles, charged };
}

function at(along: number[], values: number[], where: number): number {
  let low = 0;
  let high = along.length - 1;
  if (where <= (along[0] ?? 0)) return values[0] ?? 0;
  if (where >= (along[high] ?? 0)) return values[high] ?? 0;
  while (high - low > 1) {
    const middle = (low + high) >> 1;
    if ((along[middle] ?? 0) <= where) low = middle;
    else high = middle;
  }
  const a = along[low] ?? 0;
  const b = along[high] ?? 0;
  const share = b > a ? (where - a) / (b - a) : 0;
  return (values[low] ?? 0) * (1 - share) + (values[high] ?? 0) * share;
}

export interface Held {
  /** moles of the one substance */
  amount: number;
  volume: number;
  purity: number;
  recovery: number;
}

/** What a receiver holds of one substance between two times. */
export function heldBetween(flow: Flow, start: number, end: number, which: number): Held {
  const got = flow.moles.map((row) => at(flow.time, row, end) - at(flow.time, row, start));
  const total = got.reduce((sum, n) => sum + n, 0);
  const own = got[which] ?? 0;
  return {
    amount: own,
    volume: at(flow.time, flow.volume, end) - at(flow.time, flow.volume, start),
    purity: total > 0 ? own / total : NaN,
    recovery: own / (flow.charged[which] || 1),
  };
}

export const volumeAt = (flow: Flow, time: number): number => at(flow.time, flow.volume, time);
export const timeAtVolume = (flow: Flow, volume: number): number => at(flow.volume, flow.time, volume);
export const headAt = (flow: Flow, time: number): number =>
  at(flow.time, flow.head.map((value) => value ?? 0), time);

/** Points of the line purity against recovery when the end of a cut is moved. */
export function front(flow: Flow, start: number, which: number, points = 80): Held[] {
  const last = flow.time[flow.time.length - 1] ?? 0;
  const first = volumeAt(flow, start);
  const all = volumeAt(flow, last) - first;
  const line: Held[] = [];
  for (let k = 1; k <= points; k++) {
    const end = timeAtVolume(flow, first + (all * k) / points);
    const held = heldBetween(flow, start, k === points ? last : end, which);
    if (Number.isFinite(held.purity)) line.push(held);
  }
  return line;
}

/** The switch as written for a moved moment: its own kind, or volume where the head stands still. */
export function switchAt(flow: Flow, time: number, kind: string): { kind: string; text: string } {
  const volume = volumeAt(flow, time);
  if (kind === 'time') return { kind, text: `${Math.round(time / 60)} min` };
  if (kind === 'head') {
    const here = headAt(flow, time);
    const before = Math.max(...flow.head.filter((_, k) => (flow.time[k] ?? 0) < time).map((v) => v ?? 0), 0);
    const near = 0.01 * (flow.volume[flow.volume.length - 1] ?? 1e-6);
    const later = headAt(flow, timeAtVolume(flow, volume + near));
    const sooner = headAt(flow, timeAtVolume(flow, volume - near));
    if (here >= before - 0.05 && later - sooner > 0.3) {
      return { kind, text: `${(here - 273.15).toFixed(1)} °C` };
    }
  }
  return { kind: 'volume', text: `${(volume * 1e6).toFixed(1)} mL` };
}
