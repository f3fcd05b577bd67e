/**
 * Axes and lines of the course's charts: scales, ticks, paths. Pure.
 * @module
 */

/** @typedef {{day: number, value: number, low: number, high: number}} Point */
/** @typedef {{words: string, value: number}} Limit */
/** @typedef {{name: string, planned: number[][], prescribed?: number[][], reported?: number[][], measured: Point[], estimated: Point[], forecast: Point[]}} Series */
/** @typedef {{name: string, unit: string, up: string, down: string, limits: Limit[], series: Series[], no_forecast?: string}} Chart */

/** A straight map from one stretch to another. @param {number} low @param {number} high @param {number} from @param {number} to */
export function scale(low, high, from, to) {
  const slope = (to - from) / (high - low || 1);
  return (/** @type {number} */ v) => from + (v - low) * slope;
}

/** Round numbers from low to high, about as many as asked for. @param {number} low @param {number} high @param {number} about */
export function ticks(low, high, about) {
  const rough = (high - low) / Math.max(1, about);
  if (!(rough > 0) || !Number.isFinite(rough)) return [low];
  const power = 10 ** Math.floor(Math.log10(rough));
  const step = [1, 2, 5, 10].map((k) => k * power).find((s) => s >= rough * 0.999) ?? 10 * power;
  const found = [];
  for (let k = Math.ceil(low / step - 1e-9); k * step <= high + step * 1e-9; k += 1) found.push(Number((k * step).toPrecision(12)));
  return found;
}

/** Days at which the axis is marked: whole weeks, fortnights or more. @param {number} last @param {number} about */
export function dayTicks(last, about) {
  const step = [7, 14, 28, 56, 84, 140, 280, 560].find((s) => last / s <= about) ?? 1120;
  const found = [];
  for (let d = 0; d <= last; d += step) found.push(d);
  return found;
}

/**
 * Lowest and highest value that a chart shows on its days: what is drawn, with room around it. Limits far from
 * everything else are let go, so that they do not flatten the rest.
 * @param {Chart} chart @param {number} lastDay @returns {[number, number]}
 */
export function valueRange(chart, lastDay) {
  const values = chart.series.flatMap((s) => [
    ...[...s.measured, ...s.forecast].filter((p) => p.day <= lastDay).flatMap((p) => [p.low, p.high]),
    ...[...s.planned, ...(s.prescribed ?? [])].filter(([day]) => day <= lastDay).map(([, v]) => v),
  ]);
  if (!values.length) values.push(0);
  const low = Math.min(...values);
  const high = Math.max(...values);
  const reach = Math.max(high - low, 1e-6);
  const near = chart.limits.map((l) => l.value).filter((v) => v >= low - reach && v <= high + reach);
  const [bottom, top] = [Math.min(low, ...near), Math.max(high, ...near)];
  const room = Math.max(0.06 * (top - bottom), 1e-3);
  return [bottom - room, top + room];
}

/** A line through points, cut off where the axis ends. @param {number[][]} points @param {(d: number) => number} x @param {(v: number) => number} y @param {number} lastDay */
export function linePath(points, x, y, lastDay) {
  return cut(points, lastDay)
    .map(([day, v], i) => `${i ? "L" : "M"}${x(day).toFixed(1)} ${y(v).toFixed(1)}`)
    .join("");
}

/** A band between low and high, cut off where the axis ends. @param {Point[]} points @param {(d: number) => number} x @param {(v: number) => number} y @param {number} lastDay */
export function bandPath(points, x, y, lastDay) {
  const top = cut(points.map((p) => [p.day, p.high]), lastDay);
  const bottom = cut(points.map((p) => [p.day, p.low]), lastDay).reverse();
  if (top.length < 2) return "";
  return `M${[...top, ...bottom].map(([day, v]) => `${x(day).toFixed(1)} ${y(v).toFixed(1)}`).join("L")}z`;
}

/** Points up to the last day, with the value on that day between the last two. @param {number[][]} points @param {number} lastDay */
function cut(points, lastDay) {
  const kept = points.filter(([day]) => day <= lastDay);
  const next = points.find(([day]) => day > lastDay);
  const before = kept[kept.length - 1];
  if (next && before) {
    const share = (lastDay - before[0]) / (next[0] - before[0]);
    kept.push([lastDay, before[1] + share * (next[1] - before[1])]);
  }
  return kept;
}

/** Where the axis ends: the lengthening with its last film, or healing. @param {any} bone one of the API's `charts` @param {"lengthening"|"healing"} reach */
export function lastDayOf(bone, reach) {
  const films = Math.max(0, ...bone.film_days, ...bone.visits.map((/** @type {any} */ v) => v.day));
  return reach === "healing" ? bone.last_day : Math.max(14, films, bone.today) + 4;
}

/** `−4.9°` on a chart of angles as `4.9° valgus`. @param {Chart} chart @param {Series} series @param {number} value */
export function valueWords(chart, series, value) {
  if (chart.name === "alignment") {
    const pair = series.name === "frontal film" ? ["varus", "valgus"] : ["procurvatum", "recurvatum"];
    const size = Math.abs(value).toFixed(1);
    return Number(size) === 0 ? "0.0°" : `${size}° ${value > 0 ? pair[0] : pair[1]}`;
  }
  if (chart.unit === "deg") return series.name.startsWith("ankle") && value < 0 ? `${-value}° equinus` : `${value}°`;
  return chart.unit === "mm" ? `${value.toFixed(1)} mm` : value.toFixed(2);
}
