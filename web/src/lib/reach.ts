// What a view needs before it can stand: asked for until the program answers.

import { Away } from './api';

const AGAIN = 1000; // ms

/** Load once; while the program does not answer, say so and try again. Returns what gives up. */
export function reach(load: () => Promise<void>, away: (isAway: boolean) => void): () => void {
  let over = false;
  async function go(): Promise<void> {
    for (;;) {
      try {
        await load();
        break;
      } catch (problem) {
        if (!(problem instanceof Away)) throw problem;
        away(true);
        await new Promise((done) => setTimeout(done, AGAIN));
        if (over) return;
      }
    }
    away(false);
  }
  void go();
  return () => (over = true);
}
