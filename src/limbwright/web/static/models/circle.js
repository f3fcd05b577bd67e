/**
 * The circle through three points, as a calibration ball is marked by three clicks on its edge. Pure.
 * @module
 */

/**
 * @param {import("./affine.js").Point} a @param {import("./affine.js").Point} b @param {import("./affine.js").Point} c
 * @returns {{centre: import("./affine.js").Point, radius: number} | null} null when they lie on a line
 */
export function circleThrough(a, b, c) {
  const [bx, by, cx, cy] = [b[0] - a[0], b[1] - a[1], c[0] - a[0], c[1] - a[1]];
  const twice = 2 * (bx * cy - by * cx);
  const spread = Math.max(bx * bx + by * by, cx * cx + cy * cy);
  if (Math.abs(twice) < 1e-3 * spread || spread === 0) return null;
  const [bb, cc] = [bx * bx + by * by, cx * cx + cy * cy];
  const x = (cy * bb - by * cc) / twice;
  const y = (bx * cc - cx * bb) / twice;
  return { centre: [a[0] + x, a[1] + y], radius: Math.hypot(x, y) };
}
