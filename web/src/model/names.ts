/** What a sensor is called on the screen: its place, and its own id where several share the place. */
import type { Sensor, Value } from "./messages.js";
import { strings } from "./strings.en.js";

export function nameOf(sensor: Sensor, all: readonly Sensor[]): string {
  const place = strings.places[sensor.place] ?? sensor.place;
  const isShared = all.filter((other) => other.place === sensor.place).length > 1;
  if (!isShared) return place;
  if (sensor.id === sensor.place) return place;
  const own = sensor.id.startsWith(`${sensor.place}-`) ? sensor.id.slice(sensor.place.length + 1) : sensor.id;
  return `${place} ${own}`;
}

/** What is wrong with a value in words, null while nothing is; `isTest` takes "check" for granted. */
export function troubleOf(value: Value | undefined, isTest: boolean): string | null {
  if (value === undefined) return strings.sensor.never;
  if (value.status !== "ok") return strings.status[value.status] ?? value.status;
  if (value.quality === "good" || (value.quality === "C" && isTest)) return null;
  return strings.quality[value.quality] ?? value.quality;
}

/** What is said about a picture or recording that is no kiln. */
export function testWords(test: string): string {
  if (test === "simulator") return strings.test.simulator;
  return test === "replay" ? strings.test.replay : strings.test.other;
}
