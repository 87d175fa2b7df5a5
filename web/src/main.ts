import { mount, unmount } from 'svelte';
import './look.css';
import App from './App.svelte';
import { shadeAtStart } from './lib/shade';

const besides = (): boolean => /^#\/(hood|wall)/.test(location.hash);

/** The planning page, or what stands beside it, which is fetched only when it is wanted. */
async function show(target: HTMLElement): Promise<void> {
  const other = besides();
  const shown = mount(other ? (await import('./hood/Page.svelte')).default : App, { target });
  const changed = () => {
    if (besides() === other) return;
    window.removeEventListener('hashchange', changed);
    void unmount(shown).then(() => show(target));
  };
  window.addEventListener('hashchange', changed);
}

shadeAtStart();
const target = document.getElementById('page');
if (target) void show(target);
