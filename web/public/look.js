// Set the look before anything is drawn, so that no white page flashes at night. A file of its own, since the service
// forbids scripts inside the page; until it is here the page is dark.
(() => {
  const root = document.documentElement;
  let look = "day";
  try {
    look = JSON.parse(localStorage.getItem("nightstoke.choices") ?? "{}").look === "night" ? "night" : "day";
  } catch {
    // Nothing kept, or a browser that keeps nothing: the day look serves.
  }
  root.dataset.look = look;
  root.style.cssText =
    look === "day" ? "background:#d3d3d1;color-scheme:light" : "background:#0b0b0c;color-scheme:dark";
})();
