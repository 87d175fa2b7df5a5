// What the paths of class material answer; docs/reference/http.md says what it means.

export interface Topic {
  name: string;
  title: string;
  aim: string;
  misconception: string;
  reckoned: boolean;
}

export interface Made {
  name: string;
  finding: string;
  page: string;
  handout: string;
  key: string;
  folder: string;
}

export type Part = 'data' | 'reasoning' | 'recovery' | 'purity';

export interface Mark {
  code: string;
  total: number;
  parts: Record<Part, number>;
  reasons: Record<Part, string>;
  instead: string;
  why: string;
}

export interface MarkedRuns {
  marks: Mark[];
  unmarked: Record<string, string>;
  shown: { table: string; feedback: Record<string, string> };
}
