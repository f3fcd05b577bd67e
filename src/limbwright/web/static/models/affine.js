/**
 * Affine maps of the plane, as the server sends them: two rows of three,
 * `out = [a·x + b·y + c, d·x + e·y + f]`. Pure; knows no page.
 *
 * Frames: film pixels (x right, y down, from the centre of the top left pixel),
 * limb plane millimetres (across + lateral or anterior, proximal + up), screen pixels (x right, y down).
 * @module
 */

/** @typedef {[number, number]} Point */
/** @typedef {[[number, number, number], [number, number, number]]} Affine */

/** @type {Affine} */
export const IDENTITY = [[1, 0, 0], [0, 1, 0]];

/** @param {Affine} m @param {Point} p @returns {Point} */
export function apply(m, p) {
  return [m[0][0] * p[0] + m[0][1] * p[1] + m[0][2], m[1][0] * p[0] + m[1][1] * p[1] + m[1][2]];
}

/** A direction: moved without the shift. @param {Affine} m @param {Point} d @returns {Point} */
export function turn(m, d) {
  return [m[0][0] * d[0] + m[0][1] * d[1], m[1][0] * d[0] + m[1][1] * d[1]];
}

/** `outer` after `inner`. @param {Affine} outer @param {Affine} inner @returns {Affine} */
export function after(outer, inner) {
  const [[a, b, c], [d, e, f]] = outer;
  const [[g, h, i], [j, k, l]] = inner;
  return [
    [a * g + b * j, a * h + b * k, a * i + b * l + c],
    [d * g + e * j, d * h + e * k, d * i + e * l + f],
  ];
}

/** @param {Affine} m @returns {Affine} */
export function inverse(m) {
  const [[a, b, c], [d, e, f]] = m;
  const area = a * e - b * d;
  if (Math.abs(area) < 1e-15) throw new RangeError("a map that flattens the plane cannot be taken back");
  return [
    [e / area, -b / area, (b * f - c * e) / area],
    [-d / area, a / area, (c * d - a * f) / area],
  ];
}

/** Length of a unit step after the map: the geometric mean of both directions. @param {Affine} m */
export function magnification(m) {
  return Math.sqrt(Math.abs(m[0][0] * m[1][1] - m[0][1] * m[1][0]));
}

/**
 * Between two rigid maps: the turn and the place of `about` go evenly, so nothing is squeezed on the way.
 * @param {Affine} from @param {Affine} to @param {number} part 0 = from, 1 = to @param {Point} about
 * @returns {Affine}
 */
export function between(from, to, part, about) {
  const start = Math.atan2(from[1][0], from[0][0]);
  let swing = Math.atan2(to[1][0], to[0][0]) - start;
  swing = Math.atan2(Math.sin(swing), Math.cos(swing));
  const angle = start + part * swing;
  const [cos, sin] = [Math.cos(angle), Math.sin(angle)];
  const a = apply(from, about);
  const b = apply(to, about);
  const place = [a[0] + part * (b[0] - a[0]), a[1] + part * (b[1] - a[1])];
  return [
    [cos, -sin, place[0] - cos * about[0] + sin * about[1]],
    [sin, cos, place[1] - sin * about[0] - cos * about[1]],
  ];
}
