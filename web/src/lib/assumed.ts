// What the program took where the sheet says nothing: the sentences "key = text (why)" of a forecast.

import type { Foresight } from '../types';
import { plainly } from './units';

export interface Assumed {
  key: string;
  text: string;
  why: string;
}

export function assumptions(found: Foresight | null): Assumed[] {
  return (found?.defaults ?? []).flatMap((sentence) => {
    const [key, rest] = [sentence.split(' = ', 1)[0] ?? '', sentence.slice(sentence.indexOf(' = ') + 3)];
    if (!sentence.includes(' = ')) return [];
    const at = rest.indexOf(' (');
    const text = (at < 0 ? rest : rest.slice(0, at)).replace(/^"|"$/g, '');
    const why = at < 0 ? '' : rest.slice(at + 2, -1);
    return [{ key, text, why: why ? plainly(`${text}: ${why}.`) : '' }];
  });
}

export function assumed(found: Foresight | null, key: string): Assumed | null {
  return assumptions(found).find((one) => one.key === key) ?? null;
}
