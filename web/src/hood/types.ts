// The objects of a live run, as the server sends them; times count from the start of the run.

export type Band = [number, number, number];
export type ByName<T> = Record<string, T>;

export interface Reading {
  number: number;
  time_s: number;
  head_K?: number | null;
  pot_K?: number | null;
  bath_K?: number | null;
  pressure_Pa?: number | null;
  distillate_m3?: number | null;
  distillate_kg?: number | null;
  remark?: string | null;
  origin?: string | null;
  flags?: string[] | null;
  corrects?: number | null;
}

export interface Entry {
  number: number;
  kind: string;
  data: Record<string, unknown>;
  time_s?: number | null;
  origin?: string | null;
  corrects?: number | null;
}

export interface Lines {
  p10: (number | null)[];
  p50: (number | null)[];
  p90: (number | null)[];
}

export interface NextSwitch {
  receiver: number;
  probability: number | null;
  time_s: Band | null;
  volume_m3: Band | null;
  drops: Band | null;
}

export interface Estimate {
  now_s: number;
  reading: number | null;
  state: 'waiting' | 'undecided' | 'decided';
  says: string;
  fan?: { time_s: number[]; head_temperature_K?: Lines; distillate_volume_m3?: Lines } | null;
  next_switch?: NextSwitch | null;
  dripping?: { mole_fraction: ByName<Band> } | null;
  receiver?: { number: number; volume_m3?: Band; mole_fraction?: ByName<Band> } | null;
  pot?: { mole_fraction?: ByName<Band>; volume_m3?: Band } | null;
  residue_m3?: Band | null;
  end_s?: Band | null;
  warnings?: string[];
}

export interface Instruction {
  id: string;
  action: string;
  text: string;
  why: string;
  probability: number | null;
  in_s?: Band | null;
  in_m3?: Band | null;
  since_s?: number | null;
}

export interface Alarm {
  id: string;
  gate: string;
  state: 'warn' | 'stop';
  caution: string;
  text: string;
  since_s?: number | null;
}

export interface Run {
  id: string;
  code: string;
  title: string;
  sheet?: { programme?: { stop?: Record<string, unknown> } } | null;
  started_utc_s: number;
  ended_utc_s: number | null;
  now_s: number;
  readings: Reading[];
  entries: Entry[];
  estimate: Estimate | null;
  instruction: Instruction | null;
  alarms: Alarm[];
  findings: unknown;
}

export interface Summary {
  id: string;
  code: string;
  title: string;
  now_s: number;
  state: string;
  head_K: number | null;
  bath_K: number | null;
  distillate_m3: number | null;
  rate_m3_s: number | null;
  residue_m3: Band | number | null;
  instruction: Instruction | string | null;
  alarm: Alarm | null;
  last_reading_s: number | null;
}

/** What a chemist taps or types, before it is on the server's disk. */
export interface Sent {
  run: string;
  path: 'readings' | 'entries';
  body: Record<string, unknown>;
  /** words for the list of what is not yet sent */
  says: string;
}

/** Runs of the same substances, pooled; benches are codes. */
export interface Together {
  substances: string[];
  finding: string;
  benches: {
    code: string;
    over_m3: number;
    head_K: (number | null)[];
    plates: { value: number; band: [number, number] } | null;
    apart: { head_K: number | null; cause: string; basis: string } | null;
  }[];
  distillate_m3: number[];
  head_K: Lines | null;
  waiting: string[];
  out: string[];
  unusable: Record<string, string>;
}
