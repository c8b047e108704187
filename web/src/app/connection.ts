/**
 * The link to the service: one WebSocket that resumes where it stopped, and the few requests over HTTP. A dead link
 * raises no event of its own, so the page counts the silence itself and lets a dead socket go.
 */
import { DEAD_S, LATE_S } from "../model/ages.js";
import { type History, readHistory } from "../model/history.js";
import { type AlarmReport, readReport } from "../model/load.js";
import type { ToldEntry } from "../model/log.js";
import { type FromPanel, type Hello, readMessage, type ToPanel, writeMessage } from "../model/messages.js";
import { type Outlook, readOutlook } from "../model/outlook.js";
import type { Order } from "../model/practice.js";

const BACK_OFF_FIRST_MS = 1000;
const BACK_OFF_MOST_MS = 10_000;
const REQUEST_LIMIT_MS = 5000;

export interface Listener {
  /** The first word on a new socket: what was seen last. */
  hello(): Hello;
  /** Take a message; false asks for a fresh snapshot, because something between is missing. */
  take(message: ToPanel, nowMs: number): boolean;
  /** The socket is open and greeted. */
  opened(): void;
}

export class Connection {
  /** When anything was last heard, on the page's monotonic clock. */
  heardMs = performance.now();
  /** Messages that could not be read: counted, shown to whoever looks. */
  unreadable = 0;
  #socket: WebSocket | null = null;
  #openedMs = 0;
  #retryMs = BACK_OFF_FIRST_MS;
  #retry: ReturnType<typeof setTimeout> | undefined;
  #fresh = false;

  constructor(
    private readonly address: string,
    private readonly listener: Listener,
  ) {}

  open(): void {
    clearTimeout(this.#retry);
    this.#letGo();
    const socket = new WebSocket(this.address);
    this.#socket = socket;
    this.#openedMs = performance.now();
    socket.onopen = () => this.#greet(socket);
    socket.onmessage = (event: MessageEvent<unknown>) => this.#hear(event.data);
    socket.onclose = () => this.#openLater();
  }

  send(message: FromPanel): boolean {
    if (this.#socket?.readyState !== WebSocket.OPEN) return false;
    this.#socket.send(writeMessage(message));
    return true;
  }

  /** Called every second or so: a socket that has been silent too long is replaced. */
  watch(nowMs: number): void {
    const quietMs = nowMs - Math.max(this.heardMs, this.#openedMs);
    if (this.#socket !== null && quietMs >= DEAD_S * 1000) this.open();
  }

  /** After the page was away nothing here is to be trusted: late at once, then a fresh snapshot. */
  distrust(): void {
    this.heardMs = Math.min(this.heardMs, performance.now() - LATE_S * 1000);
    this.#fresh = true;
    this.#retryMs = BACK_OFF_FIRST_MS;
    this.open();
  }

  #greet(socket: WebSocket): void {
    const hello: Hello = this.#fresh ? { kind: "hello", epoch: null, seq: null } : this.listener.hello();
    socket.send(writeMessage(hello));
    this.#fresh = false;
    this.listener.opened();
  }

  #hear(received: unknown): void {
    const nowMs = performance.now();
    this.heardMs = nowMs;
    this.#retryMs = BACK_OFF_FIRST_MS;
    const message = this.#read(received);
    if (message === null || this.listener.take(message, nowMs)) return;
    this.#fresh = true;
    this.open();
  }

  #read(received: unknown): ToPanel | null {
    try {
      return readMessage(String(received));
    } catch (error) {
      this.unreadable += 1;
      console.warn("A message could not be read.", error);
      return null;
    }
  }

  #openLater(): void {
    this.#letGo();
    const waitMs = this.#retryMs * (0.75 + Math.random() / 2);
    this.#retryMs = Math.min(this.#retryMs * 2, BACK_OFF_MOST_MS);
    this.#retry = setTimeout(() => this.open(), waitMs);
  }

  #letGo(): void {
    const socket = this.#socket;
    this.#socket = null;
    if (socket === null) return;
    socket.onopen = socket.onmessage = socket.onclose = null;
    socket.close();
  }
}

/** The WebSocket's address beside this page. */
export function liveAddress(page: Location): string {
  return `${page.protocol === "https:" ? "wss" : "ws"}://${page.host}/live`;
}

/** Tell the service something; null when it took it, else its reason why not, empty where it gave none. */
export async function post(path: string, body: object): Promise<string | null> {
  const answer = await ask(path, body);
  return answer?.ok ? null : await reasonIn(answer);
}

async function reasonIn(answer: Response | null): Promise<string> {
  const told: unknown = await answer?.json().catch(() => null);
  const why = (told as { detail?: unknown } | null | undefined)?.detail;
  return typeof why === "string" ? why : "";
}

/** Tell what was done: "kept" once stored, "refused" where it never will be, null where nobody answered or could. */
export async function tellEntry(told: ToldEntry): Promise<"kept" | "refused" | null> {
  const answer = await ask("/api/entries", told);
  if (answer?.status === 201) return "kept";
  return answer !== null && answer.status >= 400 && answer.status < 500 ? "refused" : null;
}

/** Give an order at the practice; null when it is done, else one word why not. */
export async function order(wanted: Order): Promise<string | null> {
  const answer = await ask("/api/practice", wanted);
  return answer?.ok ? null : (await reasonIn(answer)) || "no-answer";
}

async function ask(path: string, body: object): Promise<Response | null> {
  try {
    return await fetch(path, {
      method: "POST",
      headers: { "content-type": "application/json" },
      body: JSON.stringify(body),
      signal: AbortSignal.timeout(REQUEST_LIMIT_MS),
    });
  } catch {
    return null;
  }
}

/** Fetch something and read it; null, with a word on the console, when it could not be had. */
async function fetched<T>(path: string, read: (answer: Response) => Promise<T>): Promise<T | null> {
  try {
    const answer = await fetch(path, { signal: AbortSignal.timeout(REQUEST_LIMIT_MS) });
    return answer.ok || answer.status === 404 ? await read(answer) : null;
  } catch (error) {
    console.warn(path, error);
    return null;
  }
}

/** Fetch the past as columns of extremes; `begin` null is the whole firing. Null when it could not be had. */
export function fetchHistory(begin: number | null, columns: number): Promise<History | null> {
  return fetched(
    `/api/history?columns=${columns}${begin === null ? "" : `&begin=${begin}`}`,
    async (answer) =>
      answer.ok ? readHistory(await answer.arrayBuffer(), (bytes) => new TextDecoder().decode(bytes)) : null,
  );
}

/** Fetch heat work and forecast; "early" before anything was judged, null when it could not be had. */
export function fetchOutlook(celsius: number, cone: string): Promise<Outlook | "early" | null> {
  return fetched(`/api/outlook?celsius=${celsius}&cone=${cone}`, async (answer) =>
    answer.ok ? readOutlook(await answer.json()) : "early",
  );
}

/** Fetch how much alarms asked of people; null when it could not be had. */
export function fetchReport(): Promise<AlarmReport | null> {
  return fetched("/api/alarms/report", async (answer) => readReport(await answer.json()));
}
