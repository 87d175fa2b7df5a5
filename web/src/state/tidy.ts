// From whatever was kept, opened or linked to a sheet that the page can show.

import type { ChargeRow, Course, Sheet, SwitchRow, Words } from '../types';

const RIG = [
  'flask', 'column', 'passport', 'plates', 'holdup', 'heat_loss', 'lagging', 'bath', 'heat_transfer', 'condenser', 'coolant',
  'thermometer', 'thermometer_offset', 'room', 'pump', 'leak', 'trap', 'emergent_stem', 'bulb',
];

export function emptySheet(): Sheet {
  return {
    title: '',
    charge: [{ substance: '', amount: '' }],
    rig: {},
    programme: { stop: {} },
    switch: [],
    aim: {},
    uncertain: {},
    safety: {},
  };
}

type Table = Record<string, unknown>;

const isTable = (value: unknown): value is Table =>
  typeof value === 'object' && value !== null && !Array.isArray(value);
const asText = (value: unknown): string =>
  typeof value === 'string' || typeof value === 'number' ? String(value).slice(0, 200) : '';

function wordsOf(value: unknown, keys?: string[]): Words {
  const found: Words = {};
  if (!isTable(value)) return found;
  for (const [key, entry] of Object.entries(value)) {
    if ((typeof entry === 'string' || typeof entry === 'number') && (!keys || keys.includes(key))) found[key] = entry;
  }
  return found;
}

function courseOf(value: unknown): Course | undefined {
  if (typeof value === 'string' || typeof value === 'number') return value;
  if (!Array.isArray(value)) return undefined;
  const pairs = value.filter((pair): pair is unknown[] => Array.isArray(pair) && pair.length === 2);
  return pairs.slice(0, 200).map(([time, at]) => [asText(time), typeof at === 'number' ? at : asText(at)]);
}

const rows = (value: unknown, most: number): unknown[] => (Array.isArray(value) ? value.slice(0, most) : []);

export function tidySheet(raw: unknown): Sheet {
  const sheet = emptySheet();
  if (!isTable(raw)) return sheet;
  sheet.title = asText(raw.title);
  const charge = rows(raw.charge, 8).map((row): ChargeRow => {
    const table = isTable(row) ? row : {};
    return { substance: asText(table.substance), amount: asText(table.amount) };
  });
  if (charge.length) sheet.charge = charge;
  sheet.rig = wordsOf(raw.rig, RIG);
  const programme = isTable(raw.programme) ? raw.programme : {};
  sheet.programme = { stop: wordsOf(programme.stop, ['residue', 'time', 'head']) };
  for (const key of ['pressure', 'bath', 'reflux_ratio'] as const) {
    const course = courseOf(programme[key]);
    if (course !== undefined) sheet.programme[key] = course;
  }
  Object.assign(sheet.programme, wordsOf(programme, ['settle', 'steam']));
  const held = wordsOf(programme.keep, ['rate', 'above_head', 'above_pot']);
  if (Object.keys(held).length) sheet.programme.keep = held;
  sheet.switch = rows(raw.switch, 50).map((row): SwitchRow => wordsOf(row, ['head', 'volume', 'time']) as SwitchRow);
  sheet.aim = wordsOf(raw.aim, ['substance', 'purity', 'recovery', 'time', 'blend']);
  const involatile = wordsOf(raw.involatile, ['mass', 'molar_mass']);
  if (Object.keys(involatile).length) sheet.involatile = involatile;
  sheet.uncertain = wordsOf(raw.uncertain);
  sheet.safety = isTable(raw.safety) ? (JSON.parse(JSON.stringify(raw.safety)) as Table) : {};
  return sheet;
}

/** The sheet as it is sent: nothing that is empty, and which row of the page each row was. */
export function sentSheet(sheet: Sheet): { table: Table; charge: number[]; switch: number[] } {
  const chargeRows = sheet.charge.map((row, k) => ({ row, k })).filter(({ row }) => row.substance.trim() || row.amount.trim());
  const switchRows = sheet.switch.map((row, k) => ({ row: kept(row as Words), k })).filter(({ row }) => Object.keys(row).length);
  const programme: Table = { ...kept(sheet.programme as unknown as Words) };
  delete programme.stop;
  delete programme.keep;
  const stop = kept(sheet.programme.stop);
  if (Object.keys(stop).length) programme.stop = stop;
  const held = kept(sheet.programme.keep ?? {});
  if (Object.keys(held).length) programme.keep = held;
  const table: Table = {
    charge: chargeRows.map(({ row }) => kept(row as unknown as Words)),
    rig: kept(sheet.rig),
    programme,
    switch: switchRows.map(({ row }) => row),
    aim: kept(sheet.aim),
    uncertain: kept(sheet.uncertain),
    safety: kept(sheet.safety as Words),
  };
  if (sheet.involatile) table.involatile = kept(sheet.involatile);
  if (sheet.title.trim()) table.title = sheet.title;
  return { table, charge: chargeRows.map(({ k }) => k), switch: switchRows.map(({ k }) => k) };
}

function kept(values: Words): Table {
  return Object.fromEntries(Object.entries(values).filter(([, value]) => value !== undefined && String(value).trim() !== ''));
}
