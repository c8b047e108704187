/**
 * The answer of `/api/history`: uint32 length (little-endian), a JSON header of that length padded with spaces so that
 * what follows begins on a multiple of 8, then float32 minima and maxima, sensor by sensor. NaN is "no data".
 */
import { listOf, number, record, text } from "./check.js";

export interface HistoryHeader {
  begin: number;
  step_s: number;
  columns: number;
  sensors: string[];
}

export interface History extends HistoryHeader {
  /** One array of `columns` figures for each sensor, degC. */
  minima: Float32Array[];
  maxima: Float32Array[];
}

const header = record<HistoryHeader>({
  begin: number,
  step_s: number,
  columns: number,
  sensors: listOf(text),
});

export function readHistory(bytes: ArrayBuffer, decodeText: (bytes: Uint8Array) => string): History {
  const length = new DataView(bytes).getUint32(0, true);
  const head = header(JSON.parse(decodeText(new Uint8Array(bytes, 4, length))), "history");
  const wanted = 4 + length + head.sensors.length * head.columns * 8;
  if (bytes.byteLength !== wanted) {
    throw new RangeError(`history: ${wanted} bytes expected, ${bytes.byteLength} found`);
  }
  const half = head.sensors.length * head.columns * 4;
  const rows = (from: number): Float32Array[] =>
    head.sensors.map((_, row) => floats(bytes, from + row * head.columns * 4, head.columns));
  return { ...head, minima: rows(4 + length), maxima: rows(4 + length + half) };
}

function floats(bytes: ArrayBuffer, at: number, count: number): Float32Array {
  const view = new DataView(bytes, at, count * 4);
  return Float32Array.from({ length: count }, (_, index) => view.getFloat32(index * 4, true));
}
