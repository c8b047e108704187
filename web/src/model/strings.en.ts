/** Every word of the panel that does not come from the service, in English. One such file per language. */

const plural = (count: number, one: string, many: string): string => `${count} ${count === 1 ? one : many}`;

/** A stretch of time in the shortest words that serve: "8 s", "12 min", "3 h 05". */
function stretch(seconds: number): string {
  const whole = Math.max(0, Math.floor(seconds));
  if (whole < 100) return `${whole} s`;
  const minutes = Math.floor(whole / 60);
  if (minutes < 100) return `${minutes} min`;
  return `${Math.floor(minutes / 60)} h ${String(minutes % 60).padStart(2, "0")}`;
}

export const strings = {
  language: "en",
  direction: "ltr",
  product: "Nightstoke",
  stretch,
  title: (kiln: string | null, test: boolean) => `${test ? "TEST: " : ""}${kiln ?? "Nightstoke"}`,
  loading: "Waiting for the first word from the kiln.",
  test: {
    mark: "TEST",
    simulator: "A simulated kiln, no real fire",
    replay: "A recording, not the kiln now",
    other: "Not a real kiln",
    speed: (times: number) => `${times} times as fast as life`,
  },
  head: {
    firing: (since: string) => `Firing for ${since}`,
    ended: "Firing ended",
    none: "No firing",
  },
  quiet: "Quiet",
  quietDetail: "Nothing calls for action.",
  quietHeld: "No alarm when last heard.",
  alarm: {
    region: "Alarm",
    priority: (priority: number) => `Priority ${priority}`,
    since: (age: string) => `for ${age}`,
    actIn: (time: string) => `act within ${time}`,
    over: "over, not yet seen",
    noData: "no data, so it stays",
    seenBy: (who: string | null) => (who === null ? "seen" : `seen by ${who}`),
    safetyFirst: "Your safety before the pots.",
    more: (count: number) => plural(count, "more alarm", "more alarms"),
    silenced: (time: string) => `Silent for ${time}`,
    listTitle: "All alarms",
    none: "No alarms.",
    cause: "Likely cause",
    consequence: "If nothing is done",
    action: "What to do",
  },
  linkAlarm: {
    title: "Picture stands still",
    text: "The host has said nothing.",
    cause: "Wi-Fi, the host or its power",
    consequence: "This screen shows the past.",
    action: "Go by eye and by cones. See whether the host's lamp is lit, then look at the Wi-Fi.",
  },
  late: (age: string) => `Late: nothing heard for ${age}`,
  keys: {
    silence: `Silence 60 s`,
    seen: "Seen",
    safety: "Safety",
    night: "Night look",
    day: "Day look",
    unit: (sign: string) => `Show ${sign}`,
    back: "Back",
  },
  keyTrouble: "Not stored: the host did not answer. Tap again.",
  soundOff: "Sound is off: tap here",
  climb: {
    climbing: "climbing",
    standing: "standing",
    falling: "falling",
    unknown: "climb not known yet",
  },
  guide: {
    mark: "guide",
    plan: (text: string) => `plan ${text}`,
    stoked: (age: string) => `Stoked ${age} ago`,
  },
  sensor: {
    region: "Sensors",
    age: (age: string) => `${age} old`,
    never: "nothing yet",
  },
  places: {
    firebox: "Firebox",
    front: "Front",
    middle: "Middle",
    back: "Back",
    flue: "Flue",
    timber: "Timber",
  } as Record<string, string>,
  status: {
    absent: "no reading",
    open: "wire open",
    range: "voltage out of range",
    "cold-junction": "cold junction fault",
    below: "below its range",
    above: "above its range",
    undefined: "no value here",
  } as Record<string, string>,
  quality: { F: "failed", C: "to be checked", S: "out of specification", M: "in maintenance" } as Record<
    string,
    string
  >,
  curves: {
    region: "Curves",
    plan: "Plan",
    enlarge: "larger",
    spans: { firing: "Whole firing", "six-hours": "Last 6 h", hour: "Last hour" },
    table: "The same as numbers",
    time: "Time",
    empty: "Nothing recorded in this span yet.",
    trouble: "The past could not be fetched; the curve goes on from now.",
    range: (name: string, low: string, high: string, now: string) =>
      `${name} from ${low} to ${high}, now ${now}`,
    planNow: (text: string) => `plan now ${text}`,
  },
  reminders: {
    title: "For whoever stands at the fire",
    short: "This is no CO or fire alarm. Eye protection, natural fibres, never alone.",
    first:
      "This screen is no CO, smoke or fire alarm: it sees thermocouples only. Certified alarms, local codes and fire bans, licensed trades and the makers' instructions come before anything shown here.",
    groups: [
      {
        title: "Before lighting",
        lines: [
          "Permit, fire ban and wind checked; the way out is clear.",
          "Certified CO alarms tested where people sleep and in closed rooms; whoever stokes wears a personal CO monitor.",
          "Water and hose ready for the ground around, never for the hot kiln. Wood stacked well away.",
          "Everybody knows the emergency number and how to tell where we are. Nobody is alone at night.",
        ],
      },
      {
        title: "At each stoke",
        lines: [
          "Eye protection rated for heat and glare, dry gloves, cotton or wool, hair tied back.",
          "Stand aside, open slowly, keep the face away. Above 1000 °C (1830 °F) do not reach in: brick can fall or spit.",
          "Water for yourself, shade, change places. Watch each other for heat and tiredness.",
        ],
      },
      {
        title: "Reduction",
        lines: [
          "Carbon monoxide comes out at ports and gathers in a closed shed. Air the shed.",
          "Headache, dizziness or sickness: everybody out now, then call for help. A dust mask does not stop CO.",
        ],
      },
      {
        title: "Closing and cooling",
        lines: [
          "Let the last charge burn to a clear flame. Doors, ports and inlets first; the damper last, never on smoke or long flame.",
          "Embers give off CO for a day or longer: nobody sleeps in or beside the shed, and it stays aired.",
          "The fire watch goes on. Open only when it is cool; stone dust and sharp edges when unloading.",
        ],
      },
    ],
  },
} as const;
