// Numbers as people write them. Only what the page itself moves or shows; the server reads units.

const NUMBER = /[+-]?(?:\d+(?:[.,]\d*)?|[.,]\d+)/;
const THIN = '\u202f';
export const MOLE_PERCENT = `mol${THIN}%`;

export interface Written {
  value: number;
  digits: number;
  before: string;
  after: string;
  comma: boolean;
}

/** The first number of a text and what stands around it; null where there is none. */
export function written(text: string): Written | null {
  const match = NUMBER.exec(text);
  if (!match) return null;
  const number = match[0];
  const value = Number(number.replace(',', '.'));
  if (!Number.isFinite(value)) return null;
  const digits = number.split(/[.,]/)[1]?.length ?? 0;
  return {
    value,
    digits,
    before: text.slice(0, match.index),
    after: text.slice(match.index + number.length),
    comma: number.includes(','),
  };
}

/** The text with another number in it, unit and ± kept, decimal comma kept. */
export function withNumber(text: string, value: number, digits: number, unit: string): string {
  const old = written(text);
  const shown = plain(value, digits);
  if (!old) return `${shown}${unit ? ` ${unit}` : ''}`;
  return `${old.before}${old.comma ? shown.replace('.', ',') : shown}${old.after}`;
}

function plain(value: number, digits: number): string {
  const text = value.toFixed(digits);
  return digits > 0 ? text.replace(/\.?0+$/, '') : text;
}

/** Minutes of a written time ("1 h 20 min"); NaN when it cannot be read. */
export function minutesOf(text: string | number): number {
  const factors: Record<string, number> = { s: 1 / 60, sec: 1 / 60, min: 1, h: 60, d: 1440 };
  let total = NaN;
  for (const [, number, unit] of String(text).matchAll(/(\d+(?:[.,]\d+)?)\s*([a-z]+)/gi)) {
    const factor = factors[(unit ?? '').toLowerCase()];
    if (factor === undefined) return NaN;
    total = (Number.isNaN(total) ? 0 : total) + Number((number ?? '').replace(',', '.')) * factor;
  }
  return total;
}

const UNITS: Record<string, number> = {
  mmhg: 133.322387415, torr: 101325 / 760, mbar: 100, hpa: 100, bar: 1e5, atm: 101325, kpa: 1000, pa: 1,
};

/** Pascal of a written pressure; NaN when it cannot be read. */
export function pascalOf(text: string | number): number {
  const found = written(String(text));
  if (!found) return NaN;
  const unit = found.after.replace(/±.*\d/, '').trim().toLowerCase();
  return found.value * (UNITS[unit] ?? NaN);
}

export const celsius = (kelvin: number): number => kelvin - 273.15;

export function number(value: number | null | undefined, digits: number): string {
  if (value === null || value === undefined || !Number.isFinite(value)) return '–';
  const text = value.toFixed(digits);
  return (Number(text) === 0 ? text.replace('-', '') : text).replace('-', '−');
}

export function quantity(value: number | null | undefined, digits: number, unit: string): string {
  return `${number(value, digits)}${THIN}${unit}`;
}

export function temperature(kelvin: number | null | undefined, digits = 0): string {
  return kelvin === null || kelvin === undefined ? '–' : quantity(celsius(kelvin), digits, '°C');
}

export function millilitres(m3: number | null | undefined, digits?: number): string {
  if (m3 === null || m3 === undefined) return '–';
  const ml = m3 * 1e6;
  return quantity(ml, digits ?? (Math.abs(ml) < 9.95 ? 1 : 0), 'mL');
}

export function duration(seconds: number | null | undefined): string {
  if (seconds === null || seconds === undefined || !Number.isFinite(seconds)) return '–';
  const minutes = Math.round(seconds / 60);
  if (minutes < 100) return `${minutes}${THIN}min`;
  const rest = minutes % 60;
  return `${Math.floor(minutes / 60)}${THIN}h${rest ? ` ${rest}${THIN}min` : ''}`;
}

export function pressure(pascal: number | null | undefined): string {
  if (pascal === null || pascal === undefined) return '–';
  const mmHg = pascal / 133.322387415;
  const mbar = pascal / 100;
  const digits = (v: number) => (v < 9.95 ? 1 : 0);
  return `${quantity(mmHg, digits(mmHg), 'mmHg')} (${quantity(mbar, digits(mbar), 'mbar')})`;
}

export function percent(share: number | null | undefined, digits = 0): string {
  if (share === null || share === undefined || !Number.isFinite(share)) return '–';
  const rounded = Number((100 * share).toFixed(digits));
  if (rounded === 100 && share < 1) return `>${THIN}${number(digits ? 99.9 : 99, digits)}${THIN}%`;
  return quantity(100 * share, digits, '%');
}

/** A mole fraction in mol % that never claims more than three digits. */
export function strength(fraction: number | null | undefined): string {
  if (fraction === null || fraction === undefined || !Number.isFinite(fraction)) return '–';
  if (fraction > 0.9995) return `>${THIN}99.9${THIN}${MOLE_PERCENT}`;
  return quantity(100 * fraction, 1, MOLE_PERCENT);
}

export function signed(value: number, digits: number): string {
  const text = number(Math.abs(value), digits);
  return Number(text) === 0 ? '±0' : `${value < 0 ? '−' : '+'}${text}`;
}

/** How well two sums agree; the same words as on the terminal. */
export function agreement(share: number): string {
  return share < 1e-6 ? `better than 0.0001${THIN}%` : quantity(100 * share, Math.max(0, 1 - Math.ceil(Math.log10(100 * share))), '%');
}

/** Where a value comes from, in words that say what they mean: nobody looked it up in a source. */
export const plainly = (origin: string): string => origin.replace(/from memory/g, 'a usual value, no source looked up');

export function grams(kg: number | null | undefined): string {
  return quantity(kg == null ? null : kg * 1e3, 1, 'g');
}
