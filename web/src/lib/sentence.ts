/** A text with its full stop, unless it ends with a mark of its own. */
export const sentence = (text: string): string => (/[.?!]$/.test(text) ? text : `${text}.`);
