// The built panel stays small: it must come up in seconds over a shed's Wi-Fi. Bytes as sent, gzipped, by kind.
import { readdirSync, readFileSync } from "node:fs";
import { extname, join } from "node:path";
import { gzipSync } from "node:zlib";

const limits = { ".js": 70_000, ".css": 6000, ".html": 1500, ".svg": 1500 };
const panel = new URL("../node_modules/.panel/", import.meta.url).pathname;

const sums = {};
for (const entry of readdirSync(panel, { recursive: true, withFileTypes: true })) {
  if (!entry.isFile() || entry.name.startsWith(".")) continue;
  const kind = extname(entry.name);
  sums[kind] = (sums[kind] ?? 0) + gzipSync(readFileSync(join(entry.parentPath, entry.name))).length;
}

let isOver = Object.keys(sums).length === 0;
for (const [kind, sum] of Object.entries(sums)) {
  const limit = limits[kind] ?? 0;
  console.log(`${kind}: ${sum} of ${limit} bytes`);
  isOver ||= sum > limit;
}
if (isOver) {
  console.error("The panel is over its byte budget, holds a kind of file without one, or is not built.");
  process.exit(1);
}
