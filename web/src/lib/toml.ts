// A run sheet as TOML text, in the order in which one reads it.

import type { Course, Safety, Sheet, Words } from '../types';

export function toToml(sheet: Sheet): string {
  const lines: string[] = [];
  if (sheet.title) lines.push(`title = ${text(sheet.title)}`, '');
  for (const row of sheet.charge) {
    lines.push('[[charge]]', `substance = ${text(row.substance)}`, `amount = ${text(row.amount)}`);
  }
  table(lines, 'involatile', sheet.involatile ?? {});
  table(lines, 'rig', sheet.rig);
  const { pressure, bath, reflux_ratio, settle, steam, keep, stop } = sheet.programme;
  const courses: [string, Course | undefined][] = [
    ['pressure', pressure],
    ['bath', bath],
    ['reflux_ratio', reflux_ratio],
    ['settle', settle],
    ['steam', steam],
  ];
  const given = courses.filter(([, value]) => value !== undefined && value !== '');
  const stops = filled(stop);
  const held = filled(keep ?? {});
  if (given.length || stops.length || held.length) {
    lines.push('', '[programme]');
    for (const [key, value] of given) lines.push(`${key} = ${course(value as Course)}`);
    if (held.length) lines.push(`keep = { ${held.map(([k, v]) => `${k} = ${one(v)}`).join(', ')} }`);
    if (stops.length) lines.push(`stop = { ${stops.map(([k, v]) => `${k} = ${one(v)}`).join(', ')} }`);
  }
  for (const row of sheet.switch) table(lines, '[switch]', row as Words);
  table(lines, 'aim', sheet.aim);
  table(lines, 'uncertain', sheet.uncertain);
  safety(lines, sheet.safety);
  return `${lines.join('\n')}\n`;
}

function safety(lines: string[], values: Safety): void {
  const { override, ...plain } = values;
  table(lines, 'safety', plain as Words);
  for (const row of Array.isArray(override) ? override : []) table(lines, '[safety.override]', row as Words);
}

function filled(values: Words): [string, string | number][] {
  return Object.entries(values).filter(
    (entry): entry is [string, string | number] => entry[1] !== undefined && entry[1] !== '',
  );
}

function table(lines: string[], name: string, values: Words): void {
  const rows = filled(values);
  if (rows.length) lines.push('', `[${name}]`, ...rows.map(([key, value]) => `${key} = ${one(value)}`));
}

function course(value: Course): string {
  if (!Array.isArray(value)) return one(value);
  return `[${value.map(([time, at]) => `[${one(time)}, ${one(at)}]`).join(', ')}]`;
}

function one(value: unknown): string {
  if (Array.isArray(value)) return `[${value.map(one).join(', ')}]`;
  return typeof value === 'string' ? text(value) : String(value);
}

function text(value: string): string {
  return JSON.stringify(value).replace(/\u007f/g, '\\u007F');
}
