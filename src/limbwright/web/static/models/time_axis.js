/**
 * The one time axis of a case: as it stands, corrected, each day of lengthening, healed. Pure.
 *
 * Position on the strip, 0 to 1: the first stretch is the correction (no days pass, only the picture moves),
 * the rest is days after the operation, evenly.
 * @module
 */
import { IDENTITY, between } from "./affine.js";

/** @typedef {import("./affine.js").Affine} Affine */
/** @typedef {import("./affine.js").Point} Point */
/** @typedef {{day: number, what: string}} Event */
/** @typedef {{first_day: number, last_day: number, events: Event[]}} Axis */
/** @typedef {{stage: string, day: number|null, total_gained_mm: number, frontal: Affine[]|null, sagittal: Affine[]|null, gained_mm?: Record<string, number>}} Moment */
/** @typedef {{correction: number, day: number}} Instant correction 0 (as it stands) to 1 (done); day after operation */

/** Part of the strip that shows the correction. */
export const CORRECTION_PART = 0.14;

/** @type {Instant} */
export const AS_IT_STANDS = { correction: 0, day: 0 };

/** @param {Axis} axis @param {number} position @returns {Instant} */
export function instantAt(axis, position) {
  const p = Math.min(1, Math.max(0, position));
  if (p < CORRECTION_PART) {
    const part = p / CORRECTION_PART;
    return { correction: part < 0.05 ? 0 : part > 0.95 ? 1 : part, day: axis.first_day };
  }
  const days = axis.last_day - axis.first_day;
  return { correction: 1, day: Math.round(axis.first_day + ((p - CORRECTION_PART) / (1 - CORRECTION_PART)) * days) };
}

/** @param {Axis} axis @param {Instant} instant @returns {number} */
export function positionOf(axis, instant) {
  if (instant.correction < 1) return instant.correction * CORRECTION_PART;
  const days = Math.max(1, axis.last_day - axis.first_day);
  return CORRECTION_PART + ((instant.day - axis.first_day) / days) * (1 - CORRECTION_PART);
}

/** A step of whole days; before the operation one step is the whole correction. @param {Axis} axis @param {Instant} instant @param {number} days @returns {Instant} */
export function stepped(axis, instant, days) {
  if (instant.correction < 1) return days > 0 ? { correction: 1, day: axis.first_day } : AS_IT_STANDS;
  const day = instant.day + days;
  if (day < axis.first_day) return AS_IT_STANDS;
  return { correction: 1, day: Math.min(axis.last_day, day) };
}

/** What the page calls an instant in a request. @param {Instant} instant @param {Axis} axis */
export function momentOf(instant, axis) {
  if (instant.correction === 0) return { stage: "as it stands" };
  if (instant.correction < 1 || instant.day <= axis.first_day) return { stage: "corrected" };
  return { day: instant.day };
}

/**
 * How each fragment has moved by then, in one plane; between the stages the picture goes evenly.
 * @param {Moment[]} moments as it stands first, corrected second, then days @param {Instant} instant
 * @param {"frontal"|"sagittal"} projection @param {Point[]} about one point per fragment that moves evenly
 * @returns {Affine[]}
 */
export function motionsAt(moments, instant, projection, about) {
  const corrected = moments.find((m) => m.stage === "corrected") ?? moments[0];
  if (!corrected) return [];
  const end = corrected[projection] ?? [];
  if (instant.correction === 0) return end.map(() => IDENTITY);
  if (instant.correction < 1)
    return end.map((m, i) => between(IDENTITY, m, instant.correction, about[i] ?? [0, 0]));
  const exact = dayMoment(moments, instant.day);
  return exact?.[projection] ?? end;
}

/** The moment of a day, or the latest before it. @param {Moment[]} moments @param {number} day @returns {Moment|undefined} */
export function dayMoment(moments, day) {
  let found;
  for (const m of moments) if (m.day !== null && m.day !== undefined && m.day <= day) found = m;
  return found ?? moments.find((m) => m.stage === "corrected");
}

/** @param {Instant} instant @param {Axis} axis @param {Moment[]} moments */
export function instantWords(instant, axis, moments) {
  if (instant.correction === 0) return "as it stands";
  if (instant.correction < 1) return "being corrected";
  const gained = dayMoment(moments, instant.day)?.total_gained_mm ?? 0;
  if (instant.day <= axis.first_day) return "corrected, day of operation";
  return `day ${instant.day} · ${gained.toFixed(1)} mm gained`;
}
