// Text of a file as instruments and spreadsheets write it, read as the command line reads it.

/** The text in UTF-8, in UTF-16 with its mark, else in Windows-1252 (a bare degree sign). Throws for what is no text. */
export function textOf(bytes: ArrayBuffer): string {
  const [first, second] = new Uint8Array(bytes.slice(0, 2));
  const wide = (first === 0xff && second === 0xfe) || (first === 0xfe && second === 0xff);
  const kinds = wide ? [first === 0xff ? 'utf-16le' : 'utf-16be'] : ['utf-8', 'windows-1252'];
  for (const kind of kinds) {
    try {
      const text = new TextDecoder(kind, { fatal: true }).decode(bytes);
      if (!text.includes('\0')) return text;
    } catch {
      // the next kind
    }
  }
  throw new Error('no text');
}
