/**
 * Checks of what came over the wire, built from small parts: a check takes an unknown and returns it typed, or throws
 * an error that names the place. Fields that nobody asked for are dropped, so a newer service does not break this page.
 */

export type Check<T> = (found: unknown, at: string) => T;

export class BadMessage extends Error {}

function refuse(at: string, wanted: string, found: unknown): never {
  throw new BadMessage(`${at}: ${wanted} expected, ${JSON.stringify(found) ?? "nothing"} found`);
}

export const text: Check<string> = (found, at) =>
  typeof found === "string" ? found : refuse(at, "text", found);

export const number: Check<number> = (found, at) =>
  typeof found === "number" && Number.isFinite(found) ? found : refuse(at, "a number", found);

export const truth: Check<boolean> = (found, at) =>
  typeof found === "boolean" ? found : refuse(at, "true or false", found);

export function literal<const T extends string>(wanted: T): Check<T> {
  return (found, at) => (found === wanted ? wanted : refuse(at, `"${wanted}"`, found));
}

export function orNull<T>(check: Check<T>): Check<T | null> {
  return (found, at) => (found === null ? null : check(found, at));
}

/** A field that the sender leaves out while it has its usual value. */
export function orElse<T>(check: Check<T>, usual: T): Check<T> {
  return (found, at) => (found === undefined ? usual : check(found, at));
}

export function listOf<T>(check: Check<T>): Check<T[]> {
  return (found, at) =>
    Array.isArray(found)
      ? found.map((one, index) => check(one, `${at}[${index}]`))
      : refuse(at, "a list", found);
}

export function pair<A, B>(first: Check<A>, second: Check<B>): Check<[A, B]> {
  return (found, at) =>
    Array.isArray(found) && found.length === 2
      ? [first(found[0], `${at}[0]`), second(found[1], `${at}[1]`)]
      : refuse(at, "a pair", found);
}

function fieldsOf(found: unknown, at: string): Record<string, unknown> {
  return typeof found === "object" && found !== null && !Array.isArray(found)
    ? (found as Record<string, unknown>)
    : refuse(at, "an object", found);
}

export function mapOf<T>(check: Check<T>): Check<Record<string, T>> {
  return (found, at) =>
    Object.fromEntries(
      Object.entries(fieldsOf(found, at)).map(([key, one]) => [key, check(one, `${at}.${key}`)]),
    );
}

export function record<T>(checks: { [K in keyof T]: Check<T[K]> }): Check<T> {
  return (found, at) => {
    const fields = fieldsOf(found, at);
    const checked: Partial<T> = {};
    for (const key of Object.keys(checks) as (keyof T & string)[]) {
      checked[key] = checks[key](fields[key], `${at}.${key}`);
    }
    return checked as T;
  };
}
