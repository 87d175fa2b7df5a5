// The fields of a sheet by the names that stand on the page, and what a half-written row lacks.

import type { Sheet } from '../types';
import { words } from '../words';

const { flask, glass, drive, verdict } = words;
const NAMES: Record<string, string> = {
  'aim.substance': flask.aim, 'aim.purity': flask.purity, 'aim.recovery': flask.recovery, 'aim.time': flask.time,
  'rig.flask': glass.flask, 'rig.column': glass.column, 'rig.passport': glass.passport, 'rig.plates': glass.plates,
  'rig.holdup': glass.holdup, 'rig.heat_loss': glass.loss, 'rig.lagging': glass.lagging, 'rig.bath': glass.bath,
  'rig.condenser': glass.condenser, 'rig.coolant': glass.coolant, 'rig.thermometer': glass.thermometer, 'rig.room': glass.room,
  'rig.pump': verdict.safety.pump ?? '',
  'programme.pressure': drive.pressure, 'programme.bath': drive.bath, 'programme.reflux_ratio': drive.reflux,
  'programme.stop': drive.stop, 'programme.stop.residue': `${drive.stop}, ${drive.residue}`,
  'programme.stop.time': `${drive.stop}, ${drive.stopTime}`, 'programme.stop.head': `${drive.stop}, ${drive.stopHead}`,
};

/** The name of a field (charge[2].amount) on the page; the field itself where it has none. */
export function title(field: string, sheet: Sheet): string {
  const [, kind = '', row = '', part = ''] = /^(charge|switch)\[(\d+)\]\.?(.*)$/.exec(field) ?? [];
  if (kind === 'charge') {
    const substance = sheet.charge[Number(row) - 1]?.substance.trim() || flask.nth(Number(row));
    return part === 'amount' ? flask.amountOf(substance) : flask.nth(Number(row));
  }
  if (kind === 'switch') return drive.switchNth(Number(row));
  const course = field.replace(/\[.*$/, '');
  const keep = field.replace('programme.keep.', '');
  const asked = field.replace('safety.', '');
  return NAMES[course] ?? (keep !== field ? drive.held[keep] : undefined) ?? (asked !== field ? verdict.safety[asked] : undefined) ?? field;
}

/** The question that the first half-written component puts; empty where every row is whole. */
export function questionOf(sheet: Sheet): string {
  for (const [k, row] of sheet.charge.entries()) {
    if (row.substance.trim() && !row.amount.trim()) return `${flask.amountOf(row.substance.trim())}?`;
    if (row.amount.trim() && !row.substance.trim()) return flask.whichOf(row.amount.trim(), k + 1);
  }
  return '';
}
