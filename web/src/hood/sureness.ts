import { percent } from '../lib/units';

const MOST = 0.98; // 64 guesses cannot tell what is surer from what is certain

/** How sure, never surer than the number of guesses behind it allows. */
export const sureness = (share: number): string => (share > MOST ? `> ${percent(MOST)}` : percent(share));
