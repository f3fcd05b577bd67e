/**
 * Numbers as a surgeon reads them: rounded to what is known, a word for direction, the unit beside. Pure.
 * @module
 */

/** @typedef {{deg?: number, mm?: number, percent?: number, direction?: string|null}} Amount */

/** @param {number} value @param {number} places */
export function fixed(value, places) {
  const text = value.toFixed(places);
  return Number(text) === 0 ? (0).toFixed(places) : text.replace("-", "−");
}

/** 0.1° or 1 mm, with the word: `8.3° valgus`, `33 mm shorter`. @param {Amount | null | undefined} amount */
export function amountWords(amount) {
  if (!amount) return "not known";
  const word = amount.direction && amount.direction !== "none" ? ` ${amount.direction}` : "";
  if (amount.deg !== undefined) return `${fixed(amount.deg, 1)}°${word}`;
  if (amount.mm !== undefined) return `${fixed(amount.mm, 0)} mm${word}`;
  if (amount.percent !== undefined) return `${fixed(amount.percent, 0)} %${word}`;
  return "not known";
}

const NEGATIVE = new Set(["valgus", "recurvatum", "internal", "lateral", "shorter", "posterior", "distal"]);

/**
 * The value on the axis of its normal range: varus, procurvatum, medial, external and longer are above nought;
 * the joint line convergence angle opens laterally above nought.
 * @param {Amount & {measure?: string}} reading @returns {number}
 */
export function signedValue(reading) {
  const size = reading.deg ?? reading.mm ?? reading.percent ?? 0;
  if (!reading.direction) return size;
  const below = reading.measure === "JLCA" ? reading.direction === "medial" : NEGATIVE.has(reading.direction);
  return below ? -size : size;
}

/** `femur_knee_centre` as words. @param {string} key */
export function plain(key) {
  return key.replaceAll("_", " ");
}

/** @param {string} text */
export function sentence(text) {
  return text ? text[0].toUpperCase() + text.slice(1) : text;
}

/** `2026-03-02T10:00:00+00:00` as `2 Mar 2026, 10:00`. @param {string | null | undefined} stamp */
export function whenWords(stamp) {
  if (!stamp) return "";
  const at = new Date(stamp);
  if (Number.isNaN(at.getTime())) return stamp;
  const day = `${at.getDate()} ${MONTHS[at.getMonth()]} ${at.getFullYear()}`;
  return stamp.length > 10 ? `${day}, ${String(at.getHours()).padStart(2, "0")}:${String(at.getMinutes()).padStart(2, "0")}` : day;
}
const MONTHS = ["Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec"];

/** A count with its noun. @param {number} n @param {string} one @param {string} [many] */
export function counted(n, one, many = `${one}s`) {
  return `${n} ${n === 1 ? one : many}`;
}
