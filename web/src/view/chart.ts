/** The chart library told what to draw: grey lines told apart by their dashes, the chosen one bold, names at the ends. */
import uPlot from "uplot";
import { type Curve, middleOf } from "../model/curve.js";
import { plannedAt } from "../model/plan.js";
import type { Named } from "../model/summary.js";
import { tickText } from "../model/times.js";
import { temperatureIn, type Unit, unitSign } from "../model/units.js";

export interface Picture {
  sensors: readonly Named[];
  chosen: string | null;
  plan: readonly [number, number][];
  planName: string;
  unit: Unit;
  zone: string;
  isLarge: boolean;
  /** Record time without data, in seconds, from which on a line is broken; shorter is the pace of the scans. */
  gap_s: number;
}

interface Paint {
  ink: string;
  soft: string;
  grid: string;
  band: string;
  font: string;
}

const DASHES = [
  [9, 4],
  [3, 3],
  [14, 4, 3, 4],
  [6, 6],
  [2, 5],
  [20, 5],
];
const PLAN_DASH = [2, 6];
const LABEL_GAP_PX = 4;

/** Columns as the library wants them: times, then per sensor middle, low, high, and the plan last. */
export function chartColumns(curve: Curve, picture: Picture): uPlot.AlignedData {
  const inUnit = (celsius: number | null): number | null =>
    celsius === null ? null : temperatureIn(picture.unit, celsius);
  const lines = picture.sensors.flatMap(({ id }) => {
    const row = curve.rows.get(id) ?? {
      minima: curve.times.map(() => null),
      maxima: curve.times.map(() => null),
    };
    return [middleOf(row).map(inUnit), row.minima.map(inUnit), row.maxima.map(inUnit)];
  });
  const plan = curve.times.map((time) => inUnit(plannedAt(picture.plan, time)));
  return [curve.times, ...lines, plan];
}

export function chartOptions(
  picture: Picture,
  width: number,
  height: number,
  place: HTMLElement,
): uPlot.Options {
  const paint = paintFrom(place);
  const size = picture.isLarge && width > 600 ? 20 : width < 300 ? 13 : 16;
  const font = `${size}px ${paint.font}`;
  const names = [...picture.sensors.map(({ name }) => name), picture.planName];
  const widest = Math.max(...names.map((name) => name.length)) * size * 0.62 + 14;
  return {
    width,
    height,
    padding: [size, Math.min(widest, width * 0.3), 0, 4],
    legend: { show: false },
    cursor: { show: false },
    tzDate: (time) => uPlot.tzDate(new Date(time * 1000), picture.zone),
    scales: { x: { time: true } },
    series: [
      {},
      ...picture.sensors.flatMap((sensor, index) => linesOf(sensor, index, picture, paint)),
      planLine(paint),
    ],
    bands: picture.sensors.map((_, index) => ({ series: [index * 3 + 3, index * 3 + 2], fill: paint.band })),
    axes: axesOf(picture, paint, font, size),
    hooks: { draw: [(chart) => drawNames(chart, names, picture, paint, size)] },
  };
}

function paintFrom(place: HTMLElement): Paint {
  const style = getComputedStyle(place);
  const read = (name: string): string => style.getPropertyValue(name).trim();
  return {
    ink: read("--ink"),
    soft: read("--soft"),
    grid: read("--grid"),
    band: read("--band"),
    font: style.fontFamily,
  };
}

function linesOf(sensor: Named, index: number, picture: Picture, paint: Paint): uPlot.Series[] {
  const isChosen = sensor.id === picture.chosen;
  const dash = DASHES[index % DASHES.length] ?? [];
  const middle: uPlot.Series = {
    stroke: isChosen ? paint.ink : paint.soft,
    width: isChosen ? 4 : 1.5,
    points: { show: false },
    gaps: longGaps(picture.gap_s),
    ...(isChosen ? {} : { dash }),
  };
  return [middle, edgeOfBand(picture), edgeOfBand(picture)];
}

function edgeOfBand(picture: Picture): uPlot.Series {
  return { stroke: "transparent", width: 0, points: { show: false }, gaps: longGaps(picture.gap_s) };
}

/** Keep the gaps that last; a line is not broken between two scans that fell into columns apart. */
function longGaps(gap_s: number): uPlot.Series.GapsRefiner {
  return (chart, _series, _first, _last, gaps) =>
    gaps.filter(([from, to]) => chart.posToVal(to, "x", true) - chart.posToVal(from, "x", true) >= gap_s);
}

function planLine(paint: Paint): uPlot.Series {
  return { stroke: paint.ink, width: 1.5, dash: PLAN_DASH, points: { show: false } };
}

function axesOf(picture: Picture, paint: Paint, font: string, size: number): uPlot.Axis[] {
  const shared = { font, stroke: paint.soft, grid: { stroke: paint.grid, width: 1 }, ticks: { show: false } };
  return [
    {
      ...shared,
      size: size * 1.7,
      space: size * 5.5,
      values: (_, marks) => marks.map((mark) => tickText(mark, picture.zone)),
    },
    {
      ...shared,
      size: size * 4.6,
      space: size * 2.6,
      values: (_, marks) => marks.map((mark) => `${mark} ${unitSign(picture.unit)}`),
    },
  ];
}

interface EndName {
  name: string;
  y: number;
  isChosen: boolean;
}

function drawNames(chart: uPlot, names: string[], picture: Picture, paint: Paint, size: number): void {
  const ratio = chart.ctx.canvas.width / chart.width;
  const step = (size + LABEL_GAP_PX) * ratio;
  const { left, top, width, height } = chart.bbox;
  const all = endsOf(chart, names, picture);
  const ends = (all.length * step > height ? thinned(all, step) : all).sort((a, b) => a.y - b.y);
  spread(ends, step, top + step / 2, top + height - step / 2);
  const { ctx } = chart;
  ctx.save();
  ctx.textAlign = "left";
  ctx.textBaseline = "middle";
  for (const end of ends) {
    ctx.font = `${end.isChosen ? 700 : 400} ${size * ratio}px ${paint.font}`;
    ctx.fillStyle = end.isChosen ? paint.ink : paint.soft;
    ctx.fillText(end.name, left + width + 6 * ratio, end.y);
  }
  ctx.restore();
}

function endsOf(chart: uPlot, names: string[], picture: Picture): EndName[] {
  return names.flatMap((name, index) => {
    const column = Array.from<number | null | undefined>(chart.data[index * 3 + 1] ?? []);
    const celsius = column.findLast((found) => found !== null && found !== undefined);
    if (celsius === undefined || celsius === null) return [];
    const isChosen = picture.sensors[index]?.id === picture.chosen && picture.chosen !== null;
    return [{ name, y: chart.valToPos(celsius, "y", true), isChosen }];
  });
}

/** Where not all names fit: the chosen one, the plan (it stands last), and whoever has room beside them. */
function thinned(ends: EndName[], step: number): EndName[] {
  const kept: EndName[] = [];
  for (const end of ends.toReversed().sort((a, b) => Number(b.isChosen) - Number(a.isChosen))) {
    if (kept.every((other) => Math.abs(other.y - end.y) >= step)) kept.push(end);
  }
  return kept;
}

/** Push names apart, first downwards, then back up from the lower edge. */
function spread(ends: EndName[], step: number, top: number, bottom: number): void {
  let least = top;
  for (const end of ends) {
    end.y = Math.max(end.y, least);
    least = end.y + step;
  }
  let most = bottom;
  for (const end of ends.toReversed()) {
    end.y = Math.min(end.y, most);
    most = end.y - step;
  }
}
