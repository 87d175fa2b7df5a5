// Two forecasts compared in words: what was changed, what was taken otherwise with it, what came of it.

import type { Course, Cut, Foresight, Sheet, Words } from '../types';
import { words } from '../words';
import { assumptions } from './assumed';
import { duration, signed, temperature } from './units';

const w = words.compare;
const BATH = 'bath course';

export interface Asked {
  sheet: Sheet;
  found: Foresight;
}

const spaced = (key: string): string => key.replace(/_/g, ' ').replace('holdup', 'hold-up');

function flat(sheet: Sheet): Map<string, string> {
  const found = new Map<string, string>();
  const put = (key: string, value: unknown) => {
    if (value !== undefined && value !== '') found.set(key, shownCourse(value as Course));
  };
  for (const row of sheet.charge) put(row.substance, row.amount);
  const table = (values: Words, label: (key: string) => string) => {
    for (const [key, value] of Object.entries(values)) put(label(key), value);
  };
  table(sheet.rig, spaced);
  put('pressure', sheet.programme.pressure);
  put(BATH, sheet.programme.bath);
  table(sheet.programme.keep ?? {}, (key) => words.drive.held[key] ?? spaced(key));
  put('reflux', sheet.programme.reflux_ratio);
  put('settle', sheet.programme.settle);
  put('steam', sheet.programme.steam);
  table(sheet.involatile ?? {}, (key) => `not distilling, ${spaced(key)}`);
  table(sheet.uncertain, (key) => `doubt, ${spaced(key)}`);
  table(sheet.programme.stop, (key) => `stop, ${key}`);
  sheet.switch.forEach((row, k) => put(`switch ${k + 1}`, row.head ?? row.volume ?? row.time));
  return found;
}

/** What stood in for whatever the sheet does not say, under the names that flat() gives. */
function taken(found: Foresight): Map<string, string> {
  const named = (key: string): string => {
    if (key === 'programme.bath') return BATH;
    if (key === 'programme.reflux_ratio') return 'reflux';
    return spaced(key.replace(/^(rig|programme)\./, '').replace(/^stop\./, 'stop, '));
  };
  const rows = assumptions(found).filter(({ key }) => /^(rig|programme)\./.test(key));
  return new Map(rows.map(({ key, text }) => [named(key), text]));
}

export function shownCourse(value: Course): string {
  return Array.isArray(value) ? value.map(([t, v]) => `${v} at ${t}`).join(', ') : String(value);
}

/** What somebody changed on the sheet; where one of the two says nothing, what was taken for it. */
export function changes(was: Asked, now: Asked): string[] {
  const [before, after] = [flat(was.sheet), flat(now.sheet)];
  const [stoodIn, standsIn] = [taken(was.found), taken(now.found)];
  const said = (given: string | undefined, assumed: string | undefined) => given ?? (assumed === undefined ? w.given : w.taken(assumed));
  return [...new Set([...before.keys(), ...after.keys()])]
    .filter((key) => before.get(key) !== after.get(key))
    .map((key) => w.input(key, said(before.get(key), stoodIn.get(key)), said(after.get(key), standsIn.get(key))));
}

/** What neither sheet says and is nevertheless not taken for the same in both. */
export function takenOtherwise(was: Asked, now: Asked): string[] {
  const [before, after] = [flat(was.sheet), flat(now.sheet)];
  const [stoodIn, standsIn] = [taken(was.found), taken(now.found)];
  return [...new Set([...stoodIn.keys(), ...standsIn.keys()])]
    .filter((key) => !before.has(key) && !after.has(key) && stoodIn.get(key) !== standsIn.get(key))
    .map((key) => (key === BATH && hottest(was.found) !== hottest(now.found)
      ? w.input(w.bath, hottest(was.found), hottest(now.found))
      : w.input(key, stoodIn.get(key) ?? w.absent, standsIn.get(key) ?? w.absent)));
}

const hottest = (found: Foresight): string => temperature(Math.max(...found.trace.bath_temperature_K.map((value) => value ?? 0)));

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

/** The whole comparison in sentences; empty where nothing differs. */
export function compared(was: Asked, now: Asked): string {
  const told: string[] = [];
  const list = (title: string, rows: string[]) => rows.length && told.push(`${title}: ${rows.join('; ')}.`);
  list(w.changed, changes(was, now));
  list(w.assumed, takenOtherwise(was, now));
  const came = outcomes(was.found, now.found);
  if (came.length) told.push(`${w.sofar} ${came.join('; ')}.`);
  else if (told.length) told.push(`${w.sofar} ${w.nothing}.`);
  return told.join(' ');
}
