/** Times as people at the kiln read them: its own time zone, twenty-four hours. */

const shapes = {
  clock: { hour: "2-digit", minute: "2-digit", hourCycle: "h23" },
  day: { weekday: "short", day: "numeric" },
} as const satisfies Record<string, Intl.DateTimeFormatOptions>;

/** The zone itself, or UTC where the browser does not know it. */
export function knownZone(zone: string): string {
  try {
    return new Intl.DateTimeFormat("en-GB", { timeZone: zone }).resolvedOptions().timeZone;
  } catch {
    return "UTC";
  }
}

function written(epochSeconds: number, zone: string, shape: keyof typeof shapes): string {
  return new Intl.DateTimeFormat("en-GB", { timeZone: zone, ...shapes[shape] }).format(epochSeconds * 1000);
}

export function clockText(epochSeconds: number, zone: string): string {
  return written(epochSeconds, zone, "clock");
}

export function dayText(epochSeconds: number, zone: string): string {
  return written(epochSeconds, zone, "day");
}

/** A mark of the time axis: the hour, and at midnight the day. */
export function tickText(epochSeconds: number, zone: string): string {
  const hour = clockText(epochSeconds, zone);
  return hour === "00:00" ? dayText(epochSeconds, zone) : hour;
}
