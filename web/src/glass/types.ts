// What the paths of one's own glass answer; docs/reference/http.md says what it means.

import type { Gate, Known } from '../types';

export interface Passport extends Known {
  kept_utc_s: number[];
  shown: { drawing: string; head: string[]; rows: string[][]; how: string[]; warnings: string[] };
}

export interface Guide {
  finding: string;
  column: string;
  passport: string | null;
  pair: [string, string];
  plates: number[];
  head_mole_fraction: number[];
  pot_mole_fraction: number[];
  settled_s: number;
  head_temperature_K: number;
  bath_temperature_K: number;
  assays: string;
  sheet: string;
  gates: Gate[];
  not_modelled: string[];
  shown: { sheet: unknown; steps: string[]; warnings: string[]; stopped: boolean };
}
