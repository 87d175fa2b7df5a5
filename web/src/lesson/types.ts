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
