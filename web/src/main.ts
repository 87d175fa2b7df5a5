import { mount } from 'svelte';
import './look.css';
import App from './App.svelte';

function shadeAtStart(): string {
  try {
    const kept = localStorage.getItem('forerun.shade');
    if (kept) return kept;
  } catch {
    // a browser that keeps nothing follows the system
  }
  return matchMedia('(prefers-color-scheme: dark)').matches ? 'dark' : 'light';
}

document.documentElement.dataset.shade = shadeAtStart();
const target = document.getElementById('page');
if (target) mount(App, { target });
