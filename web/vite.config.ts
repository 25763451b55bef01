import { svelte } from '@sveltejs/vite-plugin-svelte'
import { defineConfig } from 'vitest/config'

export default defineConfig({
  plugins: [svelte()],
  // Tests run what a browser runs, not what a server would.
  ...(process.env.VITEST ? { resolve: { conditions: ['browser'] } } : {}),
  base: '/',
  build: {
    outDir: '../src/evenfall/app/static',
    emptyOutDir: true,
    target: 'es2022',
    assetsInlineLimit: 0,
    modulePreload: { polyfill: false },
    sourcemap: false,
    chunkSizeWarningLimit: 900,
  },
  server: { proxy: { '/live': { target: 'ws://127.0.0.1:8750', ws: true }, '/sheet': 'http://127.0.0.1:8750' } },
  test: {
    projects: [
      { extends: true, test: { name: 'plain', include: ['src/**/*.test.ts'], exclude: ['src/**/*.svelte.test.ts'] } },
      {
        extends: true,
        test: {
          name: 'page',
          include: ['src/**/*.svelte.test.ts'],
          environment: './src/lib/testing/environment.ts',
        },
      },
    ],
  },
})
