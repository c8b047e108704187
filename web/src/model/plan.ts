/** The plan as the panel needs it: its temperature at a time, linear between its points. */

/** Temperature in degC that the plan asks at `time` (epoch seconds), null outside the plan. */
export function plannedAt(points: readonly [number, number][], time: number): number | null {
  for (let index = 1; index < points.length; index += 1) {
    const from = points[index - 1];
    const to = points[index];
    if (from === undefined || to === undefined || time < from[0] || time > to[0]) continue;
    const share = to[0] === from[0] ? 1 : (time - from[0]) / (to[0] - from[0]);
    return from[1] + share * (to[1] - from[1]);
  }
  return null;
}
