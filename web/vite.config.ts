import { svelte } from '@sveltejs/vite-plugin-svelte';
import { defineConfig } from 'vite';

// The built page is committed inside the Python package, so that nobody needs Node to run it.
export default defineConfig({
  plugins: [svelte()],
  base: '/',
  build: {
    outDir: '../src/forerun/app/web/built',
    emptyOutDir: true,
    assetsDir: 'parts',
    assetsInlineLimit: 0, // nothing inline: the content-security policy forbids it
    target: 'es2022',
    modulePreload: false,
    reportCompressedSize: false,
  },
  server: { proxy: { '/api': 'http://127.0.0.1:8017' } },
});
