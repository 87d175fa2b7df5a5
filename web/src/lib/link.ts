// A whole sheet in the part of a link that no browser sends anywhere.

const MARK = '#sheet=';

export async function linkOf(value: unknown): Promise<string> {
  const raw = new TextEncoder().encode(JSON.stringify(value));
  const packed = await through(raw, new CompressionStream('deflate-raw'));
  const text = btoa(Array.from(packed, (byte) => String.fromCharCode(byte)).join(''));
  return MARK + text.replace(/\+/g, '-').replace(/\//g, '_').replace(/=+$/, '');
}

const OWN = '#my-sheet=';

/** The link of a sheet that is kept on this machine. */
export const linkOfNumber = (number: number): string => `${OWN}${number}`;

/** The number of a kept sheet in a link; null when it names none. */
export function numberIn(fragment: string): number | null {
  const found = /^#my-sheet=(\d{1,15})$/.exec(fragment);
  return found ? Number(found[1]) : null;
}

/** What a link holds; null when it holds no sheet. Throws when it holds one that is broken. */
export async function fromLink(fragment: string): Promise<unknown> {
  if (!fragment.startsWith(MARK)) return null;
  const text = fragment.slice(MARK.length).replace(/-/g, '+').replace(/_/g, '/');
  const packed = Uint8Array.from(atob(text), (letter) => letter.charCodeAt(0));
  const raw = await through(packed, new DecompressionStream('deflate-raw'));
  return JSON.parse(new TextDecoder().decode(raw));
}

async function through(bytes: Uint8Array<ArrayBuffer>, stream: CompressionStream | DecompressionStream): Promise<Uint8Array> {
  const flow = new Blob([bytes]).stream().pipeThrough(stream as ReadableWritablePair<Uint8Array, Uint8Array>);
  return new Uint8Array(await new Response(flow).arrayBuffer());
}
