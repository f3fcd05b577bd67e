/**
 * Forecast of drift: what the strip and the films show of it. Pure.
 *
 * The server gives positive degrees in a named direction: valgus and varus in the frontal plane, procurvatum and
 * recurvatum in the sagittal one.
 * @module
 */
import { apply } from "./affine.js";
import { dayMoment } from "./time_axis.js";

/** @typedef {import("./affine.js").Point} Point */
/** @typedef {{day: number, low_deg: number, typical_deg?: number, high_deg: number}} DriftDay */

/** Which way the distal end goes across, lateral or anterior above nought. @type {Record<string, 1|-1>} */
const DISTAL_GOES = { valgus: 1, varus: -1, procurvatum: -1, recurvatum: 1 };
/** Where the part below the cut ends. @type {Record<string, string[]>} */
const DISTAL_END = { tibia: ["ankle_centre"], femur: ["femur_knee_centre", "tibia_knee_centre"] };

/** The day of a band, or the latest before it. @param {DriftDay[]} days @param {number} day @returns {DriftDay|null} */
export function driftOn(days, day) {
  let found = null;
  for (const d of days) if (d.day <= day) found = d;
  return found;
}

/**
 * Wedges between the least and the most drift of a day, from each cut to the end of the part below it.
 * @param {{drift: any, days: any, draft: any}} work @param {{correction: number, day: number}} instant
 * @param {any} shown film of the plane @param {"frontal"|"sagittal"} projection
 */
export function driftShapes(work, instant, shown, projection) {
  const { drift, days } = work;
  if (!drift?.bones?.length || !days || instant.correction < 1) return [];
  const film = work.draft.case.films.find((/** @type {any} */ f) => f.name === shown.name);
  const motions = dayMoment(days.moments, instant.day)?.[projection];
  if (!motions) return [];
  return drift.bones.flatMap((/** @type {any} */ bone) => {
    const plane = bone.planes.find((/** @type {any} */ p) => p.plane === projection);
    const cut = days.cuts.find((/** @type {any} */ c) => c.bone === bone.bone)?.[projection];
    const end = DISTAL_END[bone.bone]?.map((name) => film?.[shown.side]?.[name]).find(Boolean);
    const on = plane && driftOn(plane.days, instant.day);
    const motion = motions[days.fragments.indexOf(`below ${bone.bone}`)];
    if (!on || !cut || !end || !motion) return [];
    const pivot = apply(motion, cut.point_mm);
    const tip = apply(motion, apply(shown.mm_from_px, [end.x_px, end.y_px]));
    const way = DISTAL_GOES[plane.direction] ?? 1;
    return [
      {
        kind: "expected drift",
        label: `expected drift of the ${bone.bone}`,
        points_mm: [pivot, swung(pivot, tip, way * on.low_deg), swung(pivot, tip, way * on.high_deg)],
        closed: true,
        bone: bone.bone,
        fragment: null,
        id: null,
      },
    ];
  });
}

/** A point turned about another; the distal end goes toward across + above nought. @param {Point} pivot @param {Point} tip @param {number} deg @returns {Point} */
export function swung(pivot, tip, deg) {
  const angle = (deg * Math.PI) / 180;
  const [x, y] = [tip[0] - pivot[0], tip[1] - pivot[1]];
  return [pivot[0] + x * Math.cos(angle) - y * Math.sin(angle), pivot[1] + x * Math.sin(angle) + y * Math.cos(angle)];
}

/** The band in words, at one day. @param {any} drift @param {number} day @returns {string[]} */
export function driftWords(drift, day) {
  const bones = drift?.bones ?? [];
  return bones.flatMap((/** @type {any} */ bone) =>
    bone.planes.flatMap((/** @type {any} */ plane) => {
      const on = driftOn(plane.days, day);
      if (!on || on.high_deg < 0.05) return [];
      return [`${bones.length > 1 ? `${bone.bone} ` : ""}${on.low_deg.toFixed(1)} to ${on.high_deg.toFixed(1)}° ${plane.direction}`];
    }),
  );
}
