// Light or dark: what was chosen before, else what the system says.

const SHADE = 'forerun.shade';

export const isDark = (): boolean => document.documentElement.dataset.shade === 'dark';

export function shade(dark: boolean): void {
  document.documentElement.dataset.shade = dark ? 'dark' : 'light';
  try {
    localStorage.setItem(SHADE, dark ? 'dark' : 'light');
  } catch {
    return; // a browser that keeps nothing still changes its shade
  }
}

export function shadeAtStart(): void {
  let kept: string | null = null;
  try {
    kept = localStorage.getItem(SHADE);
  } catch {
    kept = null; // a browser that keeps nothing follows the system
  }
  document.documentElement.dataset.shade = kept ?? (matchMedia('(prefers-color-scheme: dark)').matches ? 'dark' : 'light');
}
