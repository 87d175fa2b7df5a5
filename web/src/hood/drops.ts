// Counting drops by tapping: each tap is one drop; the intervals between them give the rate.

const PAUSE = 4000; // ms without a tap that end a count, when drops are fast
const SLOW = 3; // and as many usual intervals, when they are slow
export const FULL = 10; // intervals that make a count of their own

export interface Count {
  /** moments of the run (s) of the first and last tap, and the drops after the first */
  from: number;
  to: number;
  drops: number;
}

/** The count with one more drop at a moment of the run. */
export function counted(count: Count | null, time: number): Count {
  return count ? { ...count, to: Math.max(time, count.to), drops: count.drops + 1 } : { from: time, to: time, drops: 0 };
}

/** How long to wait (ms) for another tap before a count is taken as it stands. */
export function patience(count: Count): number {
  const usual = count.drops ? (1000 * (count.to - count.from)) / count.drops : PAUSE;
  return Math.max(PAUSE, SLOW * usual);
}

export function perMinute(drops: number, over_s: number): number | null {
  return drops > 0 && over_s > 0 ? (60 * drops) / over_s : null;
}
