// The objects that travel between page and server; their meaning stands in docs/reference.

export type Course = string | number | [string, string | number][];

export interface ChargeRow {
  substance: string;
  amount: string;
}

export interface SwitchRow {
  head?: string;
  volume?: string;
  time?: string;
}

export type Words = Record<string, string | number | undefined>;
/** Answers to what the safety gates ask; lists and yes or no among them. */
export type Safety = Record<string, unknown>;

export interface Programme {
  pressure?: Course;
  bath?: Course;
  reflux_ratio?: Course;
  /** what a hand on the bath keeps, in place of a bath that was set */
  keep?: Words;
  /** no field of the page: kept as the sheet gave them */
  settle?: string;
  steam?: string;
  stop: Words;
}

/** A run sheet as it is typed: the keys of the TOML, every value as written. */
export interface Sheet {
  title: string;
  charge: ChargeRow[];
  rig: Words;
  programme: Programme;
  switch: SwitchRow[];
  aim: Words;
  /** what does not distil; no field of the page: kept as the sheet gave it */
  involatile?: Words;
  uncertain: Words;
  safety: Safety;
}

export type Numbers = (number | null)[];
export type ByName = Record<string, number | null>;

export interface Trace {
  time_s: number[];
  head_temperature_K: Numbers;
  pot_temperature_K: Numbers;
  bath_temperature_K: Numbers;
  pressure_Pa: Numbers;
  distillate_volume_m3: number[];
  distillate_mole_fraction: Record<string, Numbers>;
  pot_mole_fraction: Record<string, Numbers>;
}

export interface Cut {
  number: number;
  start_s: number;
  end_s: number;
  start_head_K: number | null;
  end_head_K: number | null;
  volume_m3: number;
  mass_kg: number;
  amount_mol: number;
  mole_fraction: ByName;
  mass_fraction: ByName;
  mole_fraction_band: Record<string, [number, number]> | null;
  volume_band_m3: [number, number] | null;
}

export interface Setting {
  value: number | null;
  sigma: number | null;
  given: boolean;
  text: string;
  origin: string;
}

export interface CutWords {
  badge: string;
  time: string;
  head: string;
  volume: string;
  mass: string;
  /** what it holds, with its unit */
  holds: string;
}

export interface RigShown {
  column: string;
  bath: string;
  /** the bath as it is called at the bench */
  heated_by: string;
  condenser: string;
  bath_limit_K: number | null;
  charge_volume_m3: number;
  lowest_pressure_Pa: number;
  highest_pressure_Pa: number;
  lowest_reflux: number | null;
  highest_reflux: number | null;
  flask_volume_m3: Setting;
  plates: Setting;
  holdup_m3: Setting;
  heat_loss_W_K: Setting;
  heat_transfer_W_K: Setting;
  coolant_temperature_K: Setting;
  room_temperature_K: Setting;
  pressure_drop_Pa: Setting;
  thermometer_lag_s: Setting;
}

export interface ChargeShown {
  substance: string;
  amount_mol: number;
  volume_m3: number;
  mass_kg: number;
  molar_mass_kg_mol: number;
}

export interface SourceRow {
  key: string;
  citation: string;
  doi: string | null;
  provenance: string;
}

export interface Foresight {
  title: string;
  finding: string;
  trace: Trace;
  first_drop_s: number | null;
  first_drop_band_s: [number, number] | null;
  cuts: Cut[];
  residue: Cut;
  ledger: {
    charge_mol: ByName;
    cuts_mol: ByName;
    residue_mol: ByName;
    holdup_mol: ByName;
    vent_mol: ByName;
    closure: number;
  };
  energy: { supplied_J: number; lost_J: number; condenser_J: number; closure: number };
  band: {
    time_s: number[];
    head_temperature_K: { p10: Numbers; p50: Numbers; p90: Numbers };
  } | null;
  members: number;
  unknowns: { name: string; distribution: string; sigma: number; unit: string; origin: string }[];
  defaults: string[];
  unmodelled: string[];
  warnings: string[];
  gates: Gate[];
  references: SourceRow[];
  shown: {
    subtitle: string;
    rows: CutWords[];
    aim: { met: boolean; says: string } | null;
    /** when the last drop falls, where the run goes on without one */
    last_drop_s: number | null;
    bath_too_cold: boolean;
    cautions: string[];
    rig: RigShown;
    charge: ChargeShown[];
    stop: { residue_m3: number | null; time_s: number | null; head_K: number | null };
  };
}

export interface Azeotrope {
  temperature_K: number;
  temperature_band_K: [number, number];
  mole_fraction: ByName;
  mass_fraction: ByName;
  kind: string;
  liquid_phases: number;
  basis: string;
  note: string;
  probability: number;
  certainty: string;
}

export interface Pair {
  components: [string, string];
  relative_volatility_low: number;
  relative_volatility_high: number;
  basis: string;
  model: string;
}

export interface Mix {
  pressure_Pa: number;
  finding: string;
  components: string[];
  azeotropes: Azeotrope[];
  /** none was found, but one may exist */
  possible_azeotropes: { components: string[]; kind: string; close_to: string; probability: number }[];
  pairs: Pair[];
  curve?: { x: number[]; y: number[]; temperature_K: number[] };
  warnings: string[];
  references: SourceRow[];
  residue_curves?: { mole_fraction: Numbers[] }[];
  boundaries?: { mole_fraction: Numbers[] }[];
}

export interface Look {
  name: string;
  finding: string;
  formula: string;
  cas: string;
  molar_mass_kg_mol: number;
  melting_point_K: number | null;
  flash_point_K: number | null;
  autoignition_K: number | null;
  peroxide_class: string | null;
  at: { boiling_point_K: number; band_K: [number, number]; state: string };
}

export interface Fault {
  field: string;
  value: string;
  accepted: string;
  message: string;
}

export interface DrawerItem {
  name: string;
  label: string;
  length_m: number | null;
  caution: string;
  diameter_m?: number;
  hetp_m?: number;
  limit_C?: number;
}

export interface Offered {
  substances: string[];
  drawer: Record<'column' | 'condenser' | 'bath' | 'lagging' | 'thermometer', DrawerItem[]>;
  flasks_m3: number[];
}

export interface Example {
  name: string;
  title: string;
  sheet: Partial<Sheet>;
}

export interface Gate {
  name: string;
  state: 'pass' | 'warn' | 'stop';
  says: string;
  computed: Record<string, unknown>;
  guidance: string;
  sources: string[];
  settle: string;
  overridden: string;
}

export interface Advice {
  finding: string;
  /** the best way found, as a sheet that can be put in place of the one on the page */
  sheet: unknown;
  aim: { substance: string; purity: number; basis: string; recovery: number };
  verdict: {
    method: string;
    probability: number | null;
    reasons: string[];
    runner_up: { method: string; probability: number | null; says: string } | null;
    would_change: string[];
  };
  rule_of_thumb: { method: string; says: string };
  routes: { name: string; says: string }[];
  gates: Gate[];
  pressure_window: {
    low_Pa: number | null;
    high_Pa: number | null;
    limits: { name: string; side: string; pressure_Pa: number | null; item: string; says: string }[];
    changes: string[];
  };
  rigs: {
    label: string;
    plates: number | null;
    reflux_ratio: number | null;
    pressure_Pa: number | null;
    purity: number | null;
    recovery: number | null;
    time_s: number | null;
    probability: number | null;
  }[];
  warnings: string[];
}

export interface ReviewedCut {
  number: number;
  boiling_range?: string | null;
  volume_m3: number | null;
  mass_kg: number | null;
  mole_fraction: Record<string, number | null>;
  mole_fraction_band: Record<string, [number | null, number | null]>;
  measured: boolean;
}

export interface Reviewed {
  finding: string;
  cuts: ReviewedCut[];
  residue: ReviewedCut;
  ledger: { lines: { place: string; mass_kg: number | null; band_kg: number | null; measured: boolean }[] };
  findings: {
    seen: string;
    caution: string | null;
    test: string | null;
    remedy: string | null;
    causes: { label: string; probability: number | null }[];
  }[];
  warnings: string[];
  redistil: { what: string; sheet: unknown };
  shown: {
    drawing: string | null;
    sentences: Record<'cuts' | 'suspects' | 'glass' | 'again' | 'otherwise' | 'against' | 'not_examined', string[]>;
    tables: { cuts: string; account: string };
  };
}

/** What is known of an item of one's own glass: the middle and the 80 % band of each quantity. */
export interface Known {
  passport: string;
  finding: string;
  column: string;
  runs: number;
  known: Record<string, { low: number; value: number; high: number }>;
}
