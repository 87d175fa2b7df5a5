// How a bench stands on the wall: the most urgent first, in a word and a sign, never by colour alone.

import { duration } from '../lib/units';
import type { Summary } from './types';
import { words } from './words';

const SILENT = 60; // s without a reading after which a bench counts as silent
const SIGNS: Record<string, [rank: number, sign: string]> = { stop: [5, '■'], warn: [4, '△'], stale: [3, '…'], drips: [1, '●'], calm: [0, '○'], ended: [0, '✓'] };

export interface Worry {
  rank: number;
  kind: string;
  sign: string;
  says: string;
}

export function worry(one: Summary): Worry {
  const w = words.board;
  const as = (kind: string, says: string): Worry => ({ kind, says, rank: SIGNS[kind]?.[0] ?? 0, sign: SIGNS[kind]?.[1] ?? '' });
  if (one.alarm) return as(one.alarm.state, `${one.alarm.state === 'stop' ? words.alarm.stop : words.alarm.warn}: ${w.gates[one.alarm.gate] ?? one.alarm.gate}`);
  if (one.state === 'ended') return as('ended', w.states.ended ?? '');
  if (one.last_reading_s === null) return as('calm', w.never);
  const silent = one.now_s - one.last_reading_s;
  if (silent > SILENT) return as('stale', w.stale(duration(silent)));
  if (one.state === 'flooding' || one.state === 'near_dry') return as('warn', w.states[one.state] ?? '');
  return one.rate_m3_s ? as('drips', w.drips) : as('calm', w.states[one.state] ?? w.still);
}
