// Runs with something hidden in them: what the server answers, and a log as columns.

import type { Part } from './types';

export interface Choice {
  name: string;
  label: string;
}

export interface Choices {
  first: string;
  last: string;
  wanted: string;
  faults: Choice[];
}

export interface Listed {
  class: string;
  title: string;
  made_utc_s: number;
  students: number;
  handed_in: number;
  given: boolean;
}

export interface Student {
  code: string;
  ticket: string;
  hidden: string;
  handed_in_utc_s: number | null;
  planned: boolean;
}

export interface Whole {
  class: string;
  title: string;
  made_utc_s: number;
  task: string[];
  weights: Record<Part, number>;
  students: Student[];
  given: boolean;
}

export interface Filed {
  media_type: string;
  base64: string;
}

export interface Given {
  total?: number;
  parts?: Record<Part, number>;
  reasons?: Record<Part, string>;
  instead?: string;
  refused?: string;
}

export type Question = 'fault' | 'share' | 'unknown';
export type Said = Partial<Record<Question | 'start' | 'end' | 'why', string>>;

export interface Own {
  code: string;
  title: string;
  task: string[];
  sheet: unknown;
  readings: string;
  as_dealt: boolean;
  asked: { question: Question; of: string; choices: Choice[] }[];
  answer: Said | null;
  handed_in_utc_s: number | null;
  plan: unknown;
  given: boolean;
  marks: Given | null;
}

export interface Moment {
  minutes: number;
  head: number;
  pot: number;
  bath: number;
  volume: number;
}

/** The rows of a log as the server writes it; what is not read is NaN. */
export function momentsOf(log: string): Moment[] {
  const [head = '', ...rows] = log.trim().split(/\r?\n/);
  const names = head.split(',');
  const at = (name: string) => names.indexOf(name);
  const places = { time: at('time_s'), head: at('head_C'), pot: at('pot_C'), bath: at('bath_C'), volume: at('distillate_mL') };
  return rows.map((row) => {
    const cells = row.split(',');
    const value = (place: number) => (cells[place] ? Number(cells[place]) : NaN);
    return { minutes: value(places.time) / 60, head: value(places.head), pot: value(places.pot), bath: value(places.bath), volume: value(places.volume) };
  });
}

export function bytesOf(file: Filed): Blob {
  return new Blob([Uint8Array.from(atob(file.base64), (letter) => letter.charCodeAt(0))], { type: file.media_type });
}

/** A moment as this place's clock has it. */
export function clockOf(utc_s: number): string {
  const two = (value: number) => String(value).padStart(2, '0');
  const at = new Date(1000 * utc_s);
  return `${at.getFullYear()}-${two(at.getMonth() + 1)}-${two(at.getDate())} ${two(at.getHours())}:${two(at.getMinutes())}`;
}
