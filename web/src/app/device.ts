/** What this device can tell and do beyond drawing: its battery, and staying awake. Absent on plain http mostly. */

interface Battery {
  level: number;
}

/** Keep asking for the battery's level, 0 to 1; null while it is unknown. */
export class BatteryGauge {
  level: number | null = null;
  #battery: Battery | null = null;

  async start(): Promise<void> {
    const source = navigator as { getBattery?: () => Promise<Battery> };
    this.#battery = (await source.getBattery?.().catch(() => null)) ?? null;
    this.look();
  }

  /** Read the level in steps of a hundredth, so that it does not change with every breath. */
  look(): void {
    this.level = this.#battery === null ? null : Math.round(this.#battery.level * 100) / 100;
  }
}

/** Ask the device to keep its screen on, where a page may ask (https only); a refusal is no failure. */
export async function stayAwake(): Promise<void> {
  if (!isSecureContext || !("wakeLock" in navigator) || document.visibilityState !== "visible") return;
  await navigator.wakeLock.request("screen").catch(() => null);
}
