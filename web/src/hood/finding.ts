// What a diagnosis says, as the server sends it: the list itself, or the list within its answer.

export interface Finding {
  name: string;
  probability: number | null;
  causes: { name: string; label: string; probability: number | null }[];
  seen: string;
  caution: string | null;
  test: string | null;
  remedy: string | null;
}

/** The findings; none where no sign was found. */
export function found(raw: unknown): Finding[] {
  const list = Array.isArray(raw) ? raw : ((raw as { findings?: unknown } | null)?.findings ?? []);
  return (Array.isArray(list) ? (list as Finding[]) : []).filter((one) => one.name !== 'none' && one.causes?.length);
}
