/**
 * What can be taken hold of on a film and what a pull on it means. Pure; limb plane mm.
 * @module
 */

/** @typedef {import("./affine.js").Point} Point */
/** @typedef {import("./case_edit.js").Change} Change */
/** @typedef {{kind: string, label: string, points_mm: Point[], closed: boolean, radius_mm: number|null, bone: string|null, fragment: string|null, id: string|null}} Shape */
/** @typedef {{shapes: Shape[]}} Drawing */
/**
 * @typedef {object} Handle
 * @property {string} key same thing, same key, from one drawing to the next
 * @property {"osteotomy"|"path"|"blocking-screw"|"pin"|"landmark"|"proposal"|"wall"|"wall-pin"} kind
 * @property {string} words for the accessible name
 * @property {Point} at_mm
 * @property {Point} [look_mm] where the loupe looks, when not at the handle itself
 * @property {Point} along_mm unit direction it may be pulled in; [0, 0] = anywhere
 * @property {((moved_mm: Point) => Change)} [change] the change of the plan a pull of so many millimetres asks for
 * @property {((moved_mm: Point, phase: "start"|"move"|"end"|"cancel") => void)} [pulled] a pull that no plan hangs on
 * @property {() => void} [pressed] Enter or a click without a pull
 * @property {() => void} [removed] Delete
 */

/**
 * Handles of a plan drawing.
 * @param {Drawing} drawing @param {any[]} bones bones of the plan @param {"frontal"|"sagittal"} projection
 * @returns {Handle[]}
 */
export function planHandles(drawing, bones, projection) {
  /** @type {Handle[]} */
  const found = [];
  for (const shape of drawing.shapes) {
    const bone = bones.find((b) => b.bone === shape.bone);
    if (!bone || !shape.id) continue;
    // Lines of a bone that is cut twice follow from both levels together and are not pulled one by one.
    if (shape.kind === "osteotomy" && !bone.second) found.push(...osteotomyHandle(shape, bone));
    if (shape.kind === "nail line" && !bone.second) found.push(...pathHandles(shape, bone, projection));
    if (shape.kind === "blocking screw") found.push(...screwHandle(shape, bone, drawing));
    if (shape.kind === "pin") found.push(...pinHandle(shape, bone, drawing));
  }
  const seen = new Set();
  return found.filter((h) => !seen.has(h.key) && seen.add(h.key));
}

/** @param {Shape} shape @param {any} bone @returns {Handle[]} */
function osteotomyHandle(shape, bone) {
  const [a, b] = ends(shape.points_mm);
  if (!a || shape.fragment === "distal") return [];
  const right = b[0] >= a[0] ? unit([b[0] - a[0], b[1] - a[1]]) : unit([a[0] - b[0], a[1] - b[1]]);
  /** @type {Point} */
  const distal = [right[1], -right[0]];
  const now = bone.osteotomy.below_joint_mm;
  return [
    {
      key: `osteotomy/${bone.bone}`,
      kind: "osteotomy",
      words: `osteotomy of the ${bone.bone}, ${now.toFixed(1)} mm below the joint line`,
      at_mm: b[0] >= a[0] ? a : b,
      look_mm: middle([a, b]),
      along_mm: distal,
      change: (moved) => ({
        kind: "osteotomy",
        bone: bone.bone,
        below_joint_mm: tenth(now + moved[0] * distal[0] + moved[1] * distal[1]),
      }),
    },
  ];
}

/** @param {Shape} shape @param {any} bone @param {"frontal"|"sagittal"} projection @returns {Handle[]} */
function pathHandles(shape, bone, projection) {
  const [a, b] = ends(shape.points_mm);
  const places = bone.path[shape.fragment ?? ""];
  if (!a || !places) return [];
  const upper = a[1] >= b[1] ? a : b;
  const lower = a[1] >= b[1] ? b : a;
  const across = projection === "frontal" ? "lateral_mm" : "anterior_mm";
  const sorted = [...places].sort((p, q) => q.proximal_mm - p.proximal_mm);
  return /** @type {Handle[]} */ (
    [
      { end: "upper", at: upper, place: sorted[0] },
      { end: "lower", at: lower, place: sorted[1] },
    ].map(({ end, at, place }) => ({
      key: `path/${bone.bone}/${shape.fragment}/${end}/${projection}`,
      kind: "path",
      words: `${pathWords(bone, shape.fragment, end)}, ${bone.bone}`,
      at_mm: at,
      along_mm: [1, 0],
      change: (/** @type {Point} */ moved) => ({
        kind: "path",
        bone: bone.bone,
        fragment: shape.fragment,
        end,
        projection,
        across_mm: tenth(place[across] + moved[0]),
      }),
    }))
  );
}

/** @param {any} bone @param {string|null} fragment @param {string} end */
function pathWords(bone, fragment, end) {
  const driving = bone.direction === "retrograde" ? ["distal", "lower"] : ["proximal", "upper"];
  if (fragment === driving[0] && end === driving[1]) return "entry point of the nail";
  return `${end} end of the nail's line in the ${fragment} fragment`;
}

/** @param {Shape} shape @param {any} bone @param {Drawing} drawing @returns {Handle[]} */
function screwHandle(shape, bone, drawing) {
  const index = Number(shape.id?.split("/").at(-1));
  const screw = bone.blocking_screws[index];
  if (!screw) return [];
  const centre = middle(shape.points_mm);
  const up = proximalAlong(drawing, bone.bone, screw.fragment);
  /** @type {Point} */
  const away = screw.fragment === "proximal" ? up : [-up[0], -up[1]];
  return [
    {
      key: `blocking-screw/${bone.bone}/${index}`,
      kind: "blocking-screw",
      words: `blocking screw ${index + 1}, ${screw.side} in the ${screw.fragment} fragment of the ${bone.bone}, ${screw.from_osteotomy_mm.toFixed(1)} mm from the osteotomy`,
      at_mm: centre,
      along_mm: away,
      change: (moved) => ({
        kind: "blocking-screw",
        bone: bone.bone,
        index,
        from_osteotomy_mm: tenth(screw.from_osteotomy_mm + moved[0] * away[0] + moved[1] * away[1]),
      }),
    },
  ];
}

/** @param {Shape} shape @param {any} bone @param {Drawing} drawing @returns {Handle[]} */
function pinHandle(shape, bone, drawing) {
  const index = Number(shape.id?.split("/").at(-1));
  const pin = bone.pins?.[index];
  if (!pin) return [];
  const up = proximalAlong(drawing, bone.bone, pin.fragment);
  /** @type {Point} */
  const distal = [-up[0], -up[1]];
  return [
    {
      key: `pin/${bone.bone}/${index}`,
      kind: "pin",
      words: `${pin.role}, ${pin.fragment} fragment of the ${bone.bone}, ${pin.below_joint_mm.toFixed(1)} mm below the joint line`,
      at_mm: middle(shape.points_mm),
      along_mm: distal,
      change: (moved) => ({
        kind: "pin",
        bone: bone.bone,
        index,
        below_joint_mm: tenth(pin.below_joint_mm + moved[0] * distal[0] + moved[1] * distal[1]),
      }),
    },
  ];
}

/** Which way is proximal along the nail's line in a fragment; straight up where there is none. @param {Drawing} drawing @param {string} bone @param {string} fragment @returns {Point} */
function proximalAlong(drawing, bone, fragment) {
  const line = drawing.shapes.find((s) => s.kind === "nail line" && s.bone === bone && s.fragment === fragment);
  const [a, b] = ends(line?.points_mm ?? []);
  if (!a) return [0, 1];
  return unit(a[1] >= b[1] ? [a[0] - b[0], a[1] - b[1]] : [b[0] - a[0], b[1] - a[1]]);
}

/** The part of a pull that the handle can follow. @param {Handle} handle @param {Point} moved_mm @returns {Point} */
export function allowed(handle, moved_mm) {
  const [x, y] = handle.along_mm;
  if (x === 0 && y === 0) return moved_mm;
  const along = moved_mm[0] * x + moved_mm[1] * y;
  return [along * x, along * y];
}

/** @param {Point[]} points @returns {[Point, Point] | [undefined, never]} */
function ends(points) {
  const first = points[0];
  const last = points.at(-1);
  return first && last && points.length > 1 ? [first, last] : /** @type {any} */ ([undefined, undefined]);
}

/** @param {Point[]} points @returns {Point} */
export function middle(points) {
  const n = Math.max(1, points.length);
  return [points.reduce((s, p) => s + p[0], 0) / n, points.reduce((s, p) => s + p[1], 0) / n];
}

/** @param {[number, number]} d @returns {Point} */
function unit(d) {
  const size = Math.hypot(d[0], d[1]) || 1;
  return [d[0] / size, d[1] / size];
}

/** @param {number} mm */
function tenth(mm) {
  return Math.round(mm * 100) / 100;
}
