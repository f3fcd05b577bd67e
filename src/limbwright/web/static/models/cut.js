/**
 * A film cut at the osteotomies: which part of the plane each fragment's picture takes. Pure; limb plane mm.
 * @module
 */

/** @typedef {import("./affine.js").Point} Point */
/** @typedef {{point_mm: Point, along_mm: Point}} CutLine */

/**
 * How far distal of a cut a point lies. [mm] The cut's own direction may run either way across.
 * @param {CutLine} cut @param {Point} p @returns {number}
 */
export function distalOf(cut, p) {
  const [dx, dy] = cut.along_mm;
  const size = Math.hypot(dx, dy) || 1;
  const away = ((p[0] - cut.point_mm[0]) * dy - (p[1] - cut.point_mm[1]) * dx) / size;
  return dx >= 0 ? away : -away;
}

/**
 * The part of a convex outline on one side of a cut.
 * @param {Point[]} outline @param {CutLine} cut @param {boolean} distal @returns {Point[]}
 */
export function sideOf(outline, cut, distal) {
  const inside = (/** @type {Point} */ p) => (distal ? distalOf(cut, p) : -distalOf(cut, p));
  /** @type {Point[]} */
  const kept = [];
  outline.forEach((p, i) => {
    const q = outline[(i + 1) % outline.length];
    const [a, b] = [inside(p), inside(q)];
    if (a >= 0) kept.push(p);
    if (a * b < 0) {
      const part = a / (a - b);
      kept.push([p[0] + part * (q[0] - p[0]), p[1] + part * (q[1] - p[1])]);
    }
  });
  return kept;
}

/**
 * One outline per fragment, proximal to distal: above the first cut, between the cuts, below the last.
 * @param {Point[]} outline convex @param {CutLine[]} cuts from proximal to distal @returns {Point[][]}
 */
export function pieces(outline, cuts) {
  const found = [];
  let rest = outline;
  for (const cut of cuts) {
    found.push(sideOf(rest, cut, false));
    rest = sideOf(rest, cut, true);
  }
  found.push(rest);
  return found;
}
