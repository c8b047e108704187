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
  practice: {
    key: "Practise",
    title: "A kiln to practise on",
    inHand: (age: string, stokes: string, wood: string) => `Yours for ${age} · ${stokes} · ${wood}`,
    stokes: (count: number) => plural(count, "stoke", "stokes"),
    take: "Take over",
    give: "Give back",
    soFar: "How it goes",
    intro: [
      "Stand a night watch without a fire: take the kiln over and the watch steps back. You stoke, rake, look in and set damper and inlets; this card tells what an eye at the kiln would see. Alarms and curves are the real ones.",
      "It is a test. Nothing here reaches a real kiln, and what a real fire asks of eyes, skin and lungs cannot be practised here.",
    ],
    pace: (times: number) =>
      times === 1
        ? "It runs as fast as life."
        : `It runs ${times} times as fast as life: ${Math.round(3600 / times)} s for an hour. For a calmer watch start the demo with --speed 1, 5 or 20.`,
    seen: "What you see",
    stoked: (age: string) => `Stoked ${age} ago`,
    notStoked: "Not stoked yet",
    lead: "The lead wants",
    every: (minutes: number, usual: string) => `a stoke every ${minutes} min, ${usual}`,
    noStoking: "no more stoking",
    sideEvery: (minutes: number, ports: string[]) => `side: ${minutes} min, ${ports.join(", ")}`,
    planClimb: (rate: string) => `climb ${rate}`,
    spyhole: "Spyholes",
    flue: "Flue",
    smoke: "Smoke",
    embers: "Embers",
    flames: { none: "no flame", short: "short flame", long: "long flame" } as Record<string, string>,
    smokes: { clear: "clear", grey: "grey", dark: "dark" } as Record<string, string>,
    depths: { low: "low", good: "good", deep: "deep", choking: "choking" } as Record<string, string>,
    notLooked: "not looked yet",
    seenAgo: (word: string, age: string) => `${word}, ${age} ago`,
    work: "What you do",
    armfuls: { small: "Stoke small", usual: "Stoke usual", big: "Stoke big" },
    side: (place: string) => `Side ${place.toLowerCase()}`,
    rake: "Rake",
    look: "Look in",
    settings: { damper: "Damper", primary: "Air below", secondary: "Air above" },
    open: (what: string, to: string) => `Open ${what.toLowerCase()} to ${to}`,
    close: (what: string, to: string) => `Close ${what.toLowerCase()} to ${to}`,
    end: (what: string) => `${what}: no further`,
    done: {
      stoke: (kilos: string) => `Stoked ${kilos}`,
      side: (place: string, kilos: string) => `Side stoke ${place.toLowerCase()}, ${kilos}`,
      rake: "Raked the embers",
      look: "Looked in",
    },
    lastly: (what: string, age: string) => `${what}, ${age} ago`,
    why: {
      "watch-has-it": "The watch has the kiln: take over first.",
      "in-hand": "It is in hand already.",
      full: "No room for more wood there. Let it burn down.",
      "too-early": "Nothing to tell yet: a minute must pass.",
      "no-answer": "The simulated kiln does not answer.",
    } as Record<string, string>,
    report: {
      title: "How it went",
      note: "Kept nowhere. Falls and stalls are by the kiln's own truth, not by its probes.",
      none: "Nothing to tell yet.",
      lasted: "Kiln time",
      stokes: "Stokes",
      stokeCounts: (front: number, side: number, wood: string) => `${front} front, ${side} side, ${wood}`,
      interval: "Between stokes",
      minutes: (minutes: number) => `${minutes.toFixed(1)} min`,
      against: (mean: string, agreed: string) => `${mean}, agreed ${agreed}`,
      gap: "Longest gap",
      falls: "Falls",
      stalls: "Stalls",
      guide: "At the guide",
      span: (low: string, high: string) => `${low} to ${high}`,
      warmest: "Warmest ware",
      coldest: "Coldest ware",
    },
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
