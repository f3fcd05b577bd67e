/**
 * What part of a limb plane a pane shows. Pure.
 *
 * Both panes of the light table share `zoom` (screen px per mm) and `middle_proximal_mm`, so that they stand at one
 * scale with their knee lines level; each has its own `middle_across_mm`.
 * @module
 */
import { inverse } from "./affine.js";

/** @typedef {import("./affine.js").Affine} Affine */
/** @typedef {import("./affine.js").Point} Point */
/** @typedef {{zoom: number, middle_across_mm: number, middle_proximal_mm: number}} View */

/** Nearest and farthest a film can be looked at. [screen px per mm] */
export const ZOOM = { least: 0.15, most: 60 };

/**
 * Limb plane millimetres to screen pixels of a pane.
 * @param {View} view @param {1|-1} across_sign which way across + runs on the screen
 * @param {number} width_px @param {number} height_px @returns {Affine}
 */
export function screenFromMm(view, across_sign, width_px, height_px) {
  const z = view.zoom;
  return [
    [across_sign * z, 0, width_px / 2 - across_sign * z * view.middle_across_mm],
    [0, -z, height_px / 2 + z * view.middle_proximal_mm],
  ];
}

/**
 * A view zoomed so that the point under the pointer stays where it is.
 * @param {View} view @param {number} factor @param {Point} at_mm @returns {View}
 */
export function zoomedAt(view, factor, at_mm) {
  const zoom = Math.min(ZOOM.most, Math.max(ZOOM.least, view.zoom * factor));
  const kept = view.zoom / zoom;
  return {
    zoom,
    middle_across_mm: at_mm[0] + (view.middle_across_mm - at_mm[0]) * kept,
    middle_proximal_mm: at_mm[1] + (view.middle_proximal_mm - at_mm[1]) * kept,
  };
}

/** @param {Affine} screen_from_mm @param {Point} screen @returns {Point} */
export function mmAt(screen_from_mm, screen) {
  const back = inverse(screen_from_mm);
  return [
    back[0][0] * screen[0] + back[0][1] * screen[1] + back[0][2],
    back[1][0] * screen[0] + back[1][1] * screen[1] + back[1][2],
  ];
}

/**
 * The view that shows a rectangle whole.
 * @param {{low: Point, high: Point}} box_mm @param {number} width_px @param {number} height_px @returns {View}
 */
export function fitted(box_mm, width_px, height_px) {
  const wide = Math.max(1, box_mm.high[0] - box_mm.low[0]);
  const tall = Math.max(1, box_mm.high[1] - box_mm.low[1]);
  return {
    zoom: Math.max(ZOOM.least, Math.min(width_px / wide, height_px / tall)),
    middle_across_mm: (box_mm.low[0] + box_mm.high[0]) / 2,
    middle_proximal_mm: (box_mm.low[1] + box_mm.high[1]) / 2,
  };
}

/**
 * A film without landmarks has no limb frame yet: it is looked at in millimetres of the film, up being up.
 * @param {number} width_px @param {number} height_px @param {number} mm_per_px @returns {Affine}
 */
export function filmAlone(width_px, height_px, mm_per_px) {
  return [
    [mm_per_px, 0, (-mm_per_px * width_px) / 2],
    [0, -mm_per_px, (mm_per_px * height_px) / 2],
  ];
}
