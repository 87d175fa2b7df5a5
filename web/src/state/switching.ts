// Where a receiver that is asked for is first changed: so that one bottle meets the aim, if one can.

import { flowOf, heldBetween, timeAtVolume, type Flow } from '../lib/receivers';
import { written } from '../lib/units';
import type { Foresight, Words } from '../types';
import { book } from './sheet.svelte';

const POINTS = 240; // places along the distillate that are tried
const USUAL = 0.95; // mole fraction where the sheet names a substance and no purity, as advice takes it
const SPARE = 0.02; // of what the purity may lack of all: so that rounding the volume does not miss the aim
const NO_AIM = 0.9; // of the distillate, where nothing is wanted or no bottle can be pure enough
const NO_RUN = 40; // mL of distillate, where nothing has been forecast yet
const FINE = 20; // mL below which a receiver is changed at a tenth of a millilitre

interface Wanted {
  which: number;
  share: number;
  /** what one mole of each substance weighs in the basis of the aim */
  weights: number[];
}

function wantedOf(found: Foresight, aim: Words): Wanted | null {
  const rows = found.shown.charge;
  const filled = book.sheet.charge.filter((row) => row.substance.trim() && row.amount.trim());
  const which = filled.findIndex((row) => row.substance === aim.substance);
  if (!aim.substance || which < 0 || which >= rows.length) return null;
  const text = String(aim.purity ?? '');
  const asked = written(text)?.value;
  const basis = asked === undefined || /mol/.test(text) ? 'mol' : /vol/.test(text) ? 'vol' : 'wt';
  const weights = rows.map((row) => (basis === 'mol' ? 1 : basis === 'vol' ? row.volume_m3 / row.amount_mol : row.molar_mass_kg_mol));
  return { which, share: asked === undefined ? USUAL : asked / 100, weights };
}

/** Purity of what comes over between two volumes, in the basis of the aim. */
function purity(flow: Flow, from: number, to: number, wanted: Wanted): number {
  const [start, end] = [timeAtVolume(flow, from), timeAtVolume(flow, to)];
  const parts = wanted.weights.map((weight, i) => weight * heldBetween(flow, start, end, i).amount);
  const all = parts.reduce((sum, part) => sum + part, 0);
  return all > 0 ? (parts[wanted.which] ?? 0) / all : 0;
}

const rounded = (mL: number, round: (value: number) => number): number => (mL < FINE ? round(10 * mL) / 10 : round(mL));

/**
 * Distillate [mL] at which to change the receiver: as late as the first bottle stays pure enough,
 * or else as early as the second one is.
 */
function firstSwitch(found: Foresight, aim: Words): number {
  const flow = flowOf(found);
  const all = flow.volume[flow.volume.length - 1] ?? 0;
  const wanted = wantedOf(found, aim);
  const usual = rounded(1e6 * NO_AIM * all, Math.round);
  if (!wanted) return usual;
  const least = wanted.share + SPARE * (1 - wanted.share);
  const places = Array.from({ length: POINTS - 1 }, (_, k) => ((k + 1) * all) / POINTS);
  if (purity(flow, 0, all, wanted) >= least) return usual;
  const first = places.filter((place) => purity(flow, 0, place, wanted) >= least).at(-1);
  if (first !== undefined) return rounded(1e6 * first, Math.floor);
  const rest = places.find((place) => purity(flow, place, all, wanted) >= least);
  return rest === undefined ? usual : rounded(1e6 * rest, Math.ceil);
}

/** Add a change of receiver to the sheet. */
export function addSwitch(found: Foresight | null): void {
  const all = found === null ? NO_RUN : 1e6 * (found.trace.distillate_volume_m3.at(-1) ?? 0);
  const place = found === null || book.sheet.switch.length ? rounded(NO_AIM * all, Math.round) : firstSwitch(found, book.sheet.aim);
  book.sheet.switch = [...book.sheet.switch, { volume: `${place} mL` }];
}
