// Two forecasts compared in words: what was changed, and what came of it.

import type { Course, Cut, Foresight, Sheet, Words } from '../types';
import { words } from '../words';
import { duration, signed } from './units';

const w = words.compare;

function flat(sheet: Sheet): Map<string, string> {
  const found = new Map<string, string>();
  const put = (key: string, value: unknown) => {
    if (value !== undefined && value !== '') found.set(key, shownCourse(value as Course));
  };
  for (const row of sheet.charge) put(row.substance, row.amount);
  const table = (values: Words, label: (key: string) => string) => {
    for (const [key, value] of Object.entries(values)) put(label(key), value);
  };
  table(sheet.rig, (key) => key.replace('_', ' '));
  put('pressure', sheet.programme.pressure);
  put('bath course', sheet.programme.bath);
  put('reflux', sheet.programme.reflux_ratio);
  put('settle', sheet.programme.settle);
  put('steam', sheet.programme.steam);
  table(sheet.involatile ?? {}, (key) => `not distilling, ${key.replace('_', ' ')}`);
  table(sheet.programme.stop, (key) => `stop, ${key}`);
  sheet.switch.forEach((row, k) => put(`switch ${k + 1}`, row.head ?? row.volume ?? row.time));
  return found;
}

export function shownCourse(value: Course): string {
  return Array.isArray(value) ? value.map(([t, v]) => `${v} at ${t}`).join(', ') : String(value);
}

export function changes(was: Sheet, now: Sheet): string[] {
  const before = flat(was);
  const after = flat(now);
  const keys = [...new Set([...before.keys(), ...after.keys()])];
  return keys
    .filter((key) => before.get(key) !== after.get(key))
    .map((key) => w.input(key, before.get(key) ?? w.given, after.get(key) ?? w.given));
}

export function outcomes(was: Foresight, now: Foresight): string[] {
  const sentences: string[] = [];
  const count = Math.max(was.cuts.length, now.cuts.length);
  for (let k = 0; k < count; k++) {
    const [a, b] = [was.cuts[k], now.cuts[k]];
    if (!a || !b) {
      sentences.push(`${w.cut(k + 1)}: ${b ? w.missing : w.gone}`);
      continue;
    }
    const parts = cutParts(a, b);
    if (parts.length) sentences.push(`${w.cut(k + 1)}: ${parts.join(', ')}`);
  }
  return sentences;
}

function cutParts(a: Cut, b: Cut): string[] {
  const parts: string[] = [];
  const volume = 1e6 * (b.volume_m3 - a.volume_m3);
  if (Math.abs(volume) >= 0.1) parts.push(w.volume(signed(volume, Math.abs(volume) < 10 ? 1 : 0)));
  const main = Object.entries(b.mole_fraction).sort((p, q) => (q[1] ?? 0) - (p[1] ?? 0))[0];
  if (main) {
    const change = 100 * ((main[1] ?? NaN) - (a.mole_fraction[main[0]] ?? NaN));
    if (Math.abs(change) >= 0.1) parts.push(w.purity(signed(change, 1), main[0]));
  }
  const time = b.end_s - a.end_s;
  if (Math.abs(time) >= 60) {
    const shown = duration(Math.abs(time));
    parts.push(w.ends(time > 0 ? w.later(shown) : w.earlier(shown)));
  }
  return parts;
}
