import { svelte } from "@sveltejs/vite-plugin-svelte";
import { defineConfig } from "vitest/config";

export default defineConfig({
  plugins: [svelte({ compilerOptions: { runes: true, discloseVersion: false } })],
  build: {
    outDir: "../monitor/panel",
    emptyOutDir: true,
    target: "es2022",
    modulePreload: { polyfill: false },
  },
  test: { include: ["src/**/*.test.ts"], environment: "node" },
});
