/**
 * Draw at two device pixels per CSS pixel at most: a third costs memory and time on a slow phone and shows nothing.
 * The chart library reads the ratio from the window when it is loaded, so this file is imported before it.
 */

const MOST = 2;

if (window.devicePixelRatio > MOST) {
  Object.defineProperty(window, "devicePixelRatio", { configurable: true, get: () => MOST });
}
