// Files of a class, sorted by bench: B07/log.csv, B07-log.csv and B07_log.csv are the same.

export const KINDS = { 'log.csv': 'readings', 'assays.csv': 'assays', 'answer.toml': 'answer', 'sheet.toml': 'sheet' } as const;
export type Kind = (typeof KINDS)[keyof typeof KINDS];
export interface Bench {
  code: string;
  files: Partial<Record<Kind, string>>;
}

/** what one bench may send: the server takes 1 MB with the sheet */
export const MOST = 900_000;
const NAMED = /(?:^|\/)([A-Za-z]{0,4}-?\d{1,4})[/_-](log\.csv|assays\.csv|answer\.toml|sheet\.toml)$/;

/** Where a file belongs, or null for one that is none of a bench. */
export function placeOf(path: string): { code: string; kind: Kind } | null {
  const found = NAMED.exec(path);
  return found?.[1] && found[2] ? { code: found[1], kind: KINDS[found[2] as keyof typeof KINDS] } : null;
}

/** The benches with another file among them, in the order of their codes. */
export function withFile(benches: Bench[], code: string, kind: Kind, text: string): Bench[] {
  const old = benches.find((one) => one.code === code) ?? { code, files: {} };
  const next = [...benches.filter((one) => one.code !== code), { code, files: { ...old.files, [kind]: text } }];
  return next.sort((a, b) => a.code.localeCompare(b.code, 'en', { numeric: true }));
}

/** How the class did: the middle one, the lowest and the highest. */
export function spread(totals: number[]): { low: number; middle: number; high: number } | null {
  const sorted = [...totals].sort((a, b) => a - b);
  const at = (k: number) => sorted[k] ?? NaN;
  if (!sorted.length) return null;
  const half = (sorted.length - 1) / 2;
  return { low: at(0), middle: (at(Math.floor(half)) + at(Math.ceil(half))) / 2, high: at(sorted.length - 1) };
}
