// model < view < app: a file imports from its own folder or from a lower one. The compiler refuses the rest for .ts
// files; this refuses it for .svelte files too, which the compiler does not see.
import { readdirSync, readFileSync } from "node:fs";
import { join } from "node:path";

const order = ["model", "view", "app"];
const source = new URL("../src/", import.meta.url).pathname;
let faults = 0;
let imports = 0;

order.forEach((folder, row) => {
  for (const name of readdirSync(join(source, folder))) {
    const text = readFileSync(join(source, folder, name), "utf8");
    for (const [, path] of text.matchAll(/(?:from|import)\s+"(\.[^"]+)"/g)) {
      imports += 1;
      const target = path.startsWith("../") ? path.split("/")[1] : folder;
      if (order.indexOf(target) <= row || name.endsWith(".test.ts")) continue;
      console.error(`${folder}/${name}: imports ${path}, which lies above it`);
      faults += 1;
    }
  }
});
if (imports === 0) {
  console.error("No import was found: the check looks at nothing.");
  faults += 1;
}
process.exit(faults === 0 ? 0 : 1);
