// What one view of the page hands on to another: the log of a run that has ended, for its review.

export interface HandedLog {
  name: string;
  text: string;
}

export const handed: { log: HandedLog | null } = { log: null };
