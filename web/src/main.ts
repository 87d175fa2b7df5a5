import { mount, unmount } from 'svelte';
import './look.css';
import App from './App.svelte';
import { shadeAtStart } from './lib/shade';

type View = 'plan' | 'hood' | 'lessons' | 'slip' | 'glass';

const wanted = (): View => (/^#\/(hood|wall)/.test(location.hash) ? 'hood' : location.hash.startsWith('#/lessons') ? 'lessons' : location.hash.startsWith('#/slip') ? 'slip' : location.hash.startsWith('#/glass') ? 'glass' : 'plan');

async function pageOf(view: View) {
  if (view === 'plan') return App;
  if (view === 'glass') return (await import('./glass/Glass.svelte')).default;
  if (view === 'slip') return (await import('./lesson/Student.svelte')).default;
  return (view === 'hood' ? await import('./hood/Page.svelte') : await import('./lesson/Lessons.svelte')).default;
}

/** The planning page, or what stands beside it, which is fetched only when it is wanted. */
async function show(target: HTMLElement): Promise<void> {
  const view = wanted();
  const shown = mount(await pageOf(view), { target });
  const changed = () => {
    if (wanted() === view) return;
    window.removeEventListener('hashchange', changed);
    void unmount(shown).then(() => show(target));
  };
  window.addEventListener('hashchange', changed);
}

shadeAtStart();
const target = document.getElementById('page');
if (target) void show(target);
