import { svelte } from '@sveltejs/vite-plugin-svelte';
import { defineConfig } from 'vitest/config';

// The page lies in the program and obeys its content policy: nothing inline, nothing from elsewhere.
export default defineConfig({
  plugins: [svelte()],
  build: { target: 'es2022', assetsInlineLimit: 0, modulePreload: false },
  server: { proxy: { '/api': 'http://127.0.0.1:8765' } },
  test: { include: ['src/**/*.test.ts'] },
});
