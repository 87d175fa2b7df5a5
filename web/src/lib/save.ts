// Pictures, tables and sheets as files.

const KEPT = [
  'fill', 'fill-opacity', 'stroke', 'stroke-width', 'stroke-dasharray', 'stroke-opacity', 'stroke-linejoin',
  'opacity', 'font-family', 'font-size', 'font-weight', 'font-style', 'text-anchor', 'dominant-baseline',
  'visibility', 'display', 'paint-order',
];

export function saveFile(name: string, content: Blob | string, kind = 'text/plain'): void {
  const blob = typeof content === 'string' ? new Blob([content], { type: `${kind};charset=utf-8` }) : content;
  const address = URL.createObjectURL(blob);
  const anchor = document.createElement('a');
  anchor.href = address;
  anchor.download = name;
  anchor.click();
  setTimeout(() => URL.revokeObjectURL(address), 10_000);
}

/** The picture by itself: every style that the page gave it written into it. */
export function pictureText(picture: SVGSVGElement): string {
  const copy = picture.cloneNode(true) as SVGSVGElement;
  const from = [picture, ...picture.querySelectorAll<SVGElement>('*')];
  const to = [copy, ...copy.querySelectorAll<SVGElement>('*')];
  from.forEach((element, k) => {
    const style = getComputedStyle(element);
    const target = to[k];
    if (!target) return;
    for (const key of KEPT) {
      const value = style.getPropertyValue(key);
      if (value) target.setAttribute(key, value);
    }
    target.removeAttribute('class');
    target.removeAttribute('tabindex');
  });
  copy.querySelectorAll('[data-only-on-screen]').forEach((element) => element.remove());
  const box = picture.viewBox.baseVal;
  copy.setAttribute('xmlns', 'http://www.w3.org/2000/svg');
  copy.setAttribute('width', String(box.width));
  copy.setAttribute('height', String(box.height));
  const ground = document.createElementNS('http://www.w3.org/2000/svg', 'rect');
  ground.setAttribute('width', '100%');
  ground.setAttribute('height', '100%');
  ground.setAttribute('fill', getComputedStyle(document.body).backgroundColor);
  copy.insertBefore(ground, copy.firstChild);
  return new XMLSerializer().serializeToString(copy);
}

export function saveSvg(picture: SVGSVGElement, name: string): void {
  saveFile(`${name}.svg`, pictureText(picture), 'image/svg+xml');
}

export async function savePng(picture: SVGSVGElement, name: string, finer = 2): Promise<void> {
  const address = URL.createObjectURL(new Blob([pictureText(picture)], { type: 'image/svg+xml' }));
  try {
    const image = new Image();
    image.src = address;
    await image.decode();
    const canvas = document.createElement('canvas');
    canvas.width = picture.viewBox.baseVal.width * finer;
    canvas.height = picture.viewBox.baseVal.height * finer;
    canvas.getContext('2d')?.drawImage(image, 0, 0, canvas.width, canvas.height);
    const blob = await new Promise<Blob | null>((done) => canvas.toBlob(done, 'image/png'));
    if (blob) saveFile(`${name}.png`, blob);
  } finally {
    URL.revokeObjectURL(address);
  }
}

export type Cell = string | number | null | undefined;

export function csvOf(head: string[], rows: Cell[][]): string {
  const cell = (value: Cell) => {
    let text = value === null || value === undefined ? '' : String(value);
    if (/^[=+@\t\r]|^-(?!\d)/.test(text)) text = `'${text}`; // no spreadsheet shall run it
    return /[",\n]/.test(text) ? `"${text.replace(/"/g, '""')}"` : text;
  };
  return [head, ...rows].map((row) => row.map(cell).join(',')).join('\n') + '\n';
}

export function fileName(title: string): string {
  const plain = title.normalize('NFKD').replace(/[^\w]+/g, '-').replace(/^-+|-+$/g, '').toLowerCase();
  return plain.slice(0, 60) || 'sheet';
}
