// What drips, stacked: one area for each substance, its name where it can be read, else beside.

import { strength } from '../lib/units';
import type { Foresight } from '../types';
import { words } from '../words';
import { ribbon, wideAs } from './scale';

const LINE = 13; // px that a name needs in height
const AIR = 4; // px between a name and whatever stands beside it
const ALL = 0.9995; // mole fraction that is said as all of it
const WORTH = 0.005; // mole fraction below which a substance is not named

export interface Layer {
  name: string;
  n: number;
  area: string;
  most: number;
  label: { x: number; y: number } | null;
}

interface Field {
  top: number;
  high: number;
}

/**
 * The layers from the foot up, in the order of the charge.
 * xs: places of the trace's points; ended: time of the last drop; lines: places no name may touch.
 */
export function layersOf(found: Foresight, xs: number[], field: Field, ended: number, lines: number[]): Layer[] {
  const { trace } = found;
  const names = Object.keys(found.ledger.charge_mol);
  const place = (share: number) => field.top + field.high * (1 - share);
  const drips = (own: (number | null)[]) => trace.time_s.map((t, k) => t <= ended && (trace.distillate_volume_m3[k] ?? 0) > 0 && own[k] != null);
  let below = trace.time_s.map(() => 0);
  return names.map((name, n) => {
    const own = trace.distillate_mole_fraction[name] ?? [];
    const there = drips(own);
    const above = below.map((b, k) => b + (own[k] ?? 0));
    const put = (shares: number[]) => shares.map((share, k) => (there[k] ? place(share) : null));
    const [foot, top] = [put(below), put(above)];
    below = above;
    const most = Math.max(0, ...own.filter((_, k) => there[k]).map((share) => share ?? 0));
    return { name, n, area: ribbon(xs, foot, top), most, label: named(name, xs, foot, top, lines) };
  });
}

/** The place with the most room where the whole name lies inside its own area. */
function named(name: string, xs: number[], foot: (number | null)[], top: (number | null)[], lines: number[]): { x: number; y: number } | null {
  const half = wideAs(name, 13) / 2 + AIR;
  const [first, last] = ends(xs, foot);
  let best: { x: number; y: number } | null = null;
  let most = LINE;
  for (let at = first + half; at <= last - half; at += 4) {
    if (lines.some((line) => Math.abs(line - at) < half)) continue;
    let [low, high] = [Infinity, -Infinity];
    xs.forEach((x, k) => {
      if (Math.abs(x - at) > half || foot[k] == null || top[k] == null) return;
      low = Math.min(low, foot[k]);
      high = Math.max(high, top[k]);
    });
    if (low - high > most && low < Infinity) [best, most] = [{ x: at, y: (low + high) / 2 + 4 }, low - high];
  }
  return best;
}

function ends(xs: number[], ys: (number | null)[]): [number, number] {
  const there = xs.filter((_, k) => ys[k] != null);
  return [Math.min(...there), Math.max(...there)];
}

export interface Beside {
  n: number;
  x: number;
  text: string;
}

/** Those without room for their name, in a row above; what no longer fits is in the table. */
export function small(layers: Layer[], from: number, to: number): Beside[] {
  let x = from;
  return layers.filter((layer) => !layer.label && layer.most >= WORTH).flatMap((layer) => {
    const text = layer.most > ALL ? layer.name : words.answer.atMost(layer.name, strength(layer.most));
    const own = { n: layer.n, x, text };
    x += 30 + wideAs(text, 11);
    return x <= to + 12 ? [own] : [];
  });
}
