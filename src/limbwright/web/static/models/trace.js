/**
 * Walls of a shaft as they are traced: the points a trace begins from, and the reader's pins. Pure; film pixels.
 * @module
 */

/** @typedef {import("./affine.js").Point} Point */
/** @typedef {{x_px: number, y_px: number, surface: string, border: string}} Pin */
/** @typedef {{surface: string, border: string, points_px: Point[]}} Edge */
/** @typedef {{clicks_px: Point[], pins: Pin[]}} Beginning */

/** Shaft landmarks, from proximal to distal; their points lie on the middle line. */
const SHAFT = ["proximal_shaft_upper", "proximal_shaft_lower", "middle_shaft_upper", "middle_shaft_lower", "distal_shaft_upper", "distal_shaft_lower"];

/** Points along a bone that are marked already, when they are enough to begin from.
 * @param {any} film of the case document @param {string} side @param {string} bone @returns {Beginning|null} */
export function fromShaftPoints(film, side, bone) {
  const marks = film?.[side] ?? {};
  const clicks_px = SHAFT.map((name) => marks[`${bone}_${name}`]).filter(Boolean).map((m) => /** @type {Point} */ ([m.x_px, m.y_px]));
  return clicks_px.length >= 2 ? { clicks_px, pins: [] } : null;
}

/** The walls that are kept, taken up again: middle of the outer pair, with the reader's pins.
 * @param {any} film @param {string} side @param {string} bone @returns {Beginning|null} */
export function fromWalls(film, side, bone) {
  const mine = wallsOf(film, side, bone);
  const outer = mine.filter((w) => w.surface === "outer");
  const [one, two] = [...new Set(outer.map((w) => w.border))].map((border) => outer.filter((w) => w.border === border));
  if (!one || !two) return null;
  // Levels at which both sides are traced; walls may come in pieces.
  const both = one
    .flatMap((w) => w.y_px)
    .filter((y) => two.some((w) => covers(w, y)))
    .sort((a, b) => a - b);
  if (both.length < 2) return null;
  const at = (/** @type {any[]} */ walls, /** @type {number} */ y) => xAt(walls.find((w) => covers(w, y)), y);
  const clicks_px = [0, 0.25, 0.5, 0.75, 1].map((part) => {
    const y = both[Math.round(part * (both.length - 1))];
    return /** @type {Point} */ ([(at(one, y) + at(two, y)) / 2, y]);
  });
  const pins = mine.flatMap((w) => (w.pins ?? []).map((/** @type {Point} */ p) => ({ x_px: p[0], y_px: p[1], surface: w.surface, border: w.border })));
  return { clicks_px: clicks_px.filter((c, i) => i === 0 || c[1] > clicks_px[i - 1][1]), pins };
}

/** What reaches farther along the bone, walls or shaft points; the pins of kept walls stay either way.
 * @param {any} film @param {string} side @param {string} bone @returns {Beginning} */
export function beginning(film, side, bone) {
  const reach = (/** @type {Beginning|null} */ b) => (b ? /** @type {Point} */ (b.clicks_px.at(-1))[1] - b.clicks_px[0][1] : -1);
  const [walls, points] = [fromWalls(film, side, bone), fromShaftPoints(film, side, bone)];
  const longer = reach(points) > reach(walls) ? points : walls;
  return { clicks_px: longer?.clicks_px ?? [], pins: walls?.pins ?? [] };
}

/** @param {{y_px: number[]}} wall @param {number} y */
function covers({ y_px }, y) {
  return y_px[0] <= y && y <= /** @type {number} */ (y_px.at(-1));
}

/** @param {any} film @param {string} side @param {string} bone @returns {any[]} */
export function wallsOf(film, side, bone) {
  return (film?.walls ?? []).filter((/** @type {any} */ w) => w.side === side && w.bone === bone);
}

/** @param {{x_px: number[], y_px: number[]}} wall @param {number} y */
function xAt({ x_px, y_px }, y) {
  const i = Math.max(1, y_px.findIndex((v) => v >= y));
  const part = (y - y_px[i - 1]) / (y_px[i] - y_px[i - 1] || 1);
  return x_px[i - 1] + part * (x_px[i] - x_px[i - 1]);
}

/** One more point, in its place from proximal to distal (films hang with the head up). @param {Point[]} clicks @param {Point} click @returns {Point[]} */
export function withClick(clicks, click) {
  return [...clicks, click].sort((a, b) => a[1] - b[1]);
}

/** A pin laid on one wall; one nearer than `near_px` on the same wall is moved. @param {Pin[]} pins @param {Pin} pin @param {number} near_px @returns {Pin[]} */
export function withPin(pins, pin, near_px) {
  const other = (/** @type {Pin} */ p) => p.surface !== pin.surface || p.border !== pin.border || Math.hypot(p.x_px - pin.x_px, p.y_px - pin.y_px) > near_px;
  return [...pins.filter(other), { ...pin, x_px: Math.round(pin.x_px * 100) / 100, y_px: Math.round(pin.y_px * 100) / 100 }];
}

/** Places along a wall where it can be taken hold of, with the direction across it. @param {Edge} edge @param {number} step_px @returns {{at: Point, across: Point}[]} */
export function holds(edge, step_px) {
  const points = edge.points_px;
  const found = [];
  let run = step_px / 2;
  for (let i = 1; i < points.length; i += 1) {
    const d = /** @type {Point} */ ([points[i][0] - points[i - 1][0], points[i][1] - points[i - 1][1]]);
    const size = Math.hypot(d[0], d[1]);
    run += size;
    if (run < step_px || size === 0) continue;
    run = 0;
    found.push({ at: points[i], across: /** @type {Point} */ ([d[1] / size, -d[0] / size]) });
  }
  return found;
}
