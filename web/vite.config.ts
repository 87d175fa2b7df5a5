import { createHash } from 'node:crypto';
import { readdirSync, readFileSync, writeFileSync } from 'node:fs';
import { join, relative } from 'node:path';
import { svelte } from '@sveltejs/vite-plugin-svelte';
import { defineConfig, type Plugin } from 'vite';

const BUILT = '../src/forerun/app/web/built';
const SOURCES = ['src', 'public', 'index.html', 'package.json', 'package-lock.json', 'svelte.config.js', 'tsconfig.json', 'vite.config.ts'];

// The built page carries a digest of what it was built from, so that a test can tell whether it is
// in step with the sources on a machine without Node.
function digestOfSources(): Plugin {
  const files = (path: string): string[] => {
    try {
      return readdirSync(path).sort().flatMap((name) => files(join(path, name)));
    } catch {
      return [path]; // a file, not a folder
    }
  };
  return {
    name: 'digest-of-sources',
    closeBundle() {
      const root = import.meta.dirname;
      const every = SOURCES.flatMap((name) => files(join(root, name))).map((path) => ({ path, name: relative(root, path).replaceAll('\\', '/') }));
      const lines = every
        .sort((a, b) => (a.name < b.name ? -1 : 1))
        .map(({ path, name }) => `${createHash('sha256').update(readFileSync(path)).digest('hex')}  ${name}\n`);
      writeFileSync(join(root, BUILT, 'sources.txt'), lines.join(''));
    },
  };
}

// The built page is committed inside the Python package, so that nobody needs Node to run it.
export default defineConfig({
  plugins: [svelte(), digestOfSources()],
  base: '/',
  build: {
    outDir: BUILT,
    emptyOutDir: true,
    assetsDir: 'parts',
    assetsInlineLimit: 0, // nothing inline: the content-security policy forbids it
    target: 'es2022',
    modulePreload: false,
    reportCompressedSize: false,
  },
  server: { proxy: { '/api': 'http://127.0.0.1:8017' } },
});
