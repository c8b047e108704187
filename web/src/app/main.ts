/** Start the panel on its page and tell it what happens around it. */
import "../view/page.css";
import "../view/ratio.js";
import "uplot/dist/uPlot.min.css";
import { mount } from "svelte";
import Screen from "../view/Screen.svelte";
import { stayAwake } from "./device.js";
import { Panel } from "./panel.svelte.js";

const TICK_MS = 500;

const panel = new Panel();
const target = document.getElementById("panel");
if (target === null) throw new Error("The page has no place called panel.");
target.replaceChildren();
mount(Screen, { target, props: { panel } });
panel.start();

setInterval(() => panel.tick(), TICK_MS);
for (const touch of ["pointerup", "keydown"]) addEventListener(touch, () => panel.wakeSound());
addEventListener("online", () => panel.distrust());
addEventListener("pageshow", (event) => {
  if (event.persisted) panel.distrust();
});
document.addEventListener("visibilitychange", () => {
  if (document.visibilityState === "visible") panel.distrust();
  else panel.tick();
  void stayAwake();
});
void stayAwake();
