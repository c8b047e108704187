/** Whether the fire gains, in one of three words; unknown stays unknown. */

/** Within this rate either way the kiln stands. Own starting value. */
export const STANDING_C_PER_H = 5;

export type ClimbWord = "climbing" | "standing" | "falling" | "unknown";

export function climbWord(cPerHour: number | null): ClimbWord {
  if (cPerHour === null) return "unknown";
  if (cPerHour > STANDING_C_PER_H) return "climbing";
  return cPerHour < -STANDING_C_PER_H ? "falling" : "standing";
}

export const climbArrow: Record<ClimbWord, string> = {
  climbing: "▲",
  standing: "▶",
  falling: "▼",
  unknown: "",
};
