// From numbers to places, and round numbers for an axis.

export interface Scale {
  (value: number): number;
  back(place: number): number;
  low: number;
  high: number;
}

export function scale(low: number, high: number, from: number, to: number): Scale {
  const span = high - low || 1;
  const place = ((value: number) => from + ((value - low) / span) * (to - from)) as Scale;
  place.back = (at: number) => low + ((at - from) / (to - from || 1)) * span;
  place.low = low;
  place.high = high;
  return place;
}

export function ticks(low: number, high: number, about: number): number[] {
  const span = high - low;
  if (!(span > 0)) return [low];
  const rough = span / Math.max(1, about);
  const power = 10 ** Math.floor(Math.log10(rough));
  const step = [1, 2, 5, 10].map((m) => m * power).find((s) => s >= rough * 0.999) ?? power * 10;
  const found: number[] = [];
  for (let k = Math.ceil(low / step - 1e-9); k * step <= high + 1e-9 * span; k++) found.push(Number((k * step).toPrecision(10)));
  return found;
}

/** Ticks of minutes that people use: 5, 10, 15, 30 min, 1 h … */
export function minuteTicks(high: number, about: number): number[] {
  const steps = [1, 2, 5, 10, 15, 20, 30, 60, 120, 240, 480, 1440];
  const step = steps.find((s) => high / s <= about) ?? 2880;
  return Array.from({ length: Math.floor(high / step) + 1 }, (_, k) => k * step);
}

export function path(xs: (number | null)[], ys: (number | null)[]): string {
  let text = '';
  let pen = false;
  for (let k = 0; k < xs.length; k++) {
    const x = xs[k];
    const y = ys[k];
    if (x === null || x === undefined || y === null || y === undefined || !Number.isFinite(x) || !Number.isFinite(y)) {
      pen = false;
      continue;
    }
    text += `${pen ? 'L' : 'M'}${x.toFixed(1)} ${y.toFixed(1)}`;
    pen = true;
  }
  return text;
}

/** The area between two lines over the same places. */
export function ribbon(xs: number[], low: (number | null)[], high: (number | null)[]): string {
  const kept = xs.map((x, k) => [x, low[k], high[k]] as const).filter(([, a, b]) => Number.isFinite(a ?? NaN) && Number.isFinite(b ?? NaN));
  if (kept.length < 2) return '';
  const there = kept.map(([x, , b]) => `${x.toFixed(1)} ${(b ?? 0).toFixed(1)}`).join('L');
  const back = kept.reverse().map(([x, a]) => `${x.toFixed(1)} ${(a ?? 0).toFixed(1)}`).join('L');
  return `M${there}L${back}Z`;
}

/** Places for labels that must not stand on each other, in the order given. */
export function apart(places: number[], least: number, low: number, high: number): number[] {
  const order = places.map((place, k) => ({ place, k })).sort((a, b) => a.place - b.place);
  for (let round = 0; round < 4; round++) {
    for (let k = 1; k < order.length; k++) {
      const a = order[k - 1];
      const b = order[k];
      if (a && b && b.place - a.place < least) {
        const push = (least - (b.place - a.place)) / 2;
        a.place -= push;
        b.place += push;
      }
    }
    for (const entry of order) entry.place = Math.min(high, Math.max(low, entry.place));
  }
  const result = [...places];
  for (const entry of order) result[entry.k] = entry.place;
  return result;
}

export interface Box {
  x: number;
  y: number;
  width: number;
  height: number;
}

/** How wide a text of so many letters stands, in units of the drawing. */
export const wideAs = (text: string, size = 12): number => 0.58 * size * text.length;

/** The first of some boxes that stays within the field and off the line; else the first of all. */
export function freeBox(boxes: Box[], xs: number[], ys: number[], field: Box): number {
  const inside = (box: Box) => box.x >= field.x && box.x + box.width <= field.x + field.width && box.y >= field.y && box.y + box.height <= field.y + field.height;
  const clear = (box: Box) => xs.every((x, k) => x < box.x || x > box.x + box.width || (ys[k] ?? 0) < box.y || (ys[k] ?? 0) > box.y + box.height);
  return Math.max(0, boxes.findIndex((box) => inside(box) && clear(box)));
}

export const DASHES = ['', '7 3', '2 3', '9 3 2 3', '4 2', '12 3', '1 3', '6 2 1 2 1 2'];
