import react from '@vitejs/plugin-react';
import { defineConfig } from 'vite';

/** Everything the page needs goes into dist-web, which the service serves. */
export default defineConfig({
  plugins: [react()],
  base: './',
  build: {
    outDir: '../dist-web',
    emptyOutDir: true,
    target: 'es2022',
    // Data addresses are not let in by the service for scripts and styles.
    assetsInlineLimit: 0,
    modulePreload: { polyfill: false },
    // The figure library is over a megabyte and is loaded when a figure is first drawn.
    chunkSizeWarningLimit: 1500,
    // How long a plugin took is of no use to who builds the page to use it.
    rolldownOptions: {
      checks: { pluginTimings: false },
      output: {
        // What holds the figure library is named for it, whichever module of ours it is bundled with.
        chunkFileNames: ({ moduleIds }) =>
          `assets/${moduleIds.some((id) => id.includes('plotly')) ? 'plotly' : '[name]'}-[hash].js`,
      },
    },
  },
});
