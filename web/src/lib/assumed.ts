// What the program took where the sheet says nothing: the sentences "key = text (why)" of a forecast.

import type { Foresight } from '../types';

export interface Assumed {
  text: string;
  why: string;
}

export function assumed(found: Foresight | null, key: string): Assumed | null {
  const sentence = found?.defaults.find((one) => one.startsWith(`${key} = `));
  if (!sentence) return null;
  const rest = sentence.slice(key.length + 3);
  const at = rest.indexOf(' (');
  const text = (at < 0 ? rest : rest.slice(0, at)).replace(/^"|"$/g, '');
  const why = at < 0 ? '' : rest.slice(at + 2, -1);
  return { text, why: why ? `${text}: ${why}.` : '' };
}
