import {defineConfig} from 'vitest/config';

// The server embeds dist/ and serves index.html for every page, so asset addresses are absolute.
// Nothing is inlined: the content security policy allows scripts, styles and pictures from 'self' alone.
export default defineConfig({
  base: '/',
  assetsInclude: ['**/*.wasm'],
  build: {target: 'es2022', modulePreload: {polyfill: false}, assetsInlineLimit: 0, sourcemap: false},
  test: {include: ['src/**/*.test.{ts,tsx}']},
});
