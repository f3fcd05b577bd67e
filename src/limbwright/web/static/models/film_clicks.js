/**
 * Which points are clicked on a follow-up film, in order, and what they are called. Pure.
 * @module
 */

/** @typedef {[number, number]} Px column and row */
/** @typedef {{name: string, words: string, needed: boolean}} Wanted */

const NAIL = [
  ["nail_thick_end", "entry end of the nail", true],
  ["nail_junction", "step from the thick to the thin part", true],
  ["nail_thin_end", "far end of the thin part", true],
];
const FRAGMENTS = [
  ["proximal_upper", "middle of the bone, some 50 mm above the cut", false],
  ["cut_upper", "middle of the bone, end of the upper fragment", false],
  ["cut_lower", "middle of the bone, start of the lower fragment", false],
  ["distal_lower", "middle of the bone, some 90 mm below the cut", false],
];

/** Points of a film in the order in which they are asked for. @param {string} bone @param {string} projection @returns {Wanted[]} */
export function wantedOn(bone, projection) {
  const frontal = projection === "frontal";
  const [outer, inner] = frontal ? ["lateral", "medial"] : ["anterior", "posterior"];
  const knee = [
    ["knee_outer", `knee line, ${outer} end`, false],
    ["knee_inner", `knee line, ${inner} end`, false],
  ];
  const ankle = bone === "tibia" ? [["ankle_outer", `plafond, ${outer} end`, false], ["ankle_inner", `plafond, ${inner} end`, false]] : [];
  const fibula = bone === "tibia" && frontal ? [["fibular_head", "tip of the fibular head", false], ["malleolus", "tip of the lateral malleolus", false]] : [];
  const head = bone === "femur" && frontal ? [["femoral_head", "centre of the femoral head", false]] : [];
  return [...NAIL, ...FRAGMENTS, ...knee, ...ankle, ...fibula, ...head].map(([name, words, needed]) => ({ name: String(name), words: String(words), needed: Boolean(needed) }));
}

/** The first point that is neither clicked nor passed over. @param {Wanted[]} wanted @param {Record<string, Px>} clicks @param {Set<string>} passed */
export function nextOf(wanted, clicks, passed) {
  return wanted.find((w) => !clicks[w.name] && !passed.has(w.name)) ?? null;
}

/** Why the film cannot be read yet; empty when it can. @param {Wanted[]} wanted @param {Record<string, Px>} clicks */
export function missingWords(wanted, clicks) {
  const nail = wanted.filter((w) => w.needed && !clicks[w.name]);
  if (nail.length) return `Still to click: ${nail.map((w) => w.words).join(", ")}.`;
  const some = FRAGMENTS.filter(([name]) => clicks[String(name)]);
  if (some.length && some.length < FRAGMENTS.length) return "Of the fragments all four points are needed, or none.";
  return "";
}

/** Clicks as the server asks for them. @param {Record<string, Px>} clicks */
export function clicksSent(clicks) {
  return Object.fromEntries(Object.entries(clicks).map(([name, [x, y]]) => [name, [Math.round(x * 10) / 10, Math.round(y * 10) / 10]]));
}

/** Marks as points and lines to draw. @param {any} marks of one film, as the case file has them */
export function drawnMarks(marks) {
  /** @param {any} m @returns {Px} */
  const at = (m) => [m.x_px, m.y_px];
  /** @type {{a: Px, b: Px, what: string}[]} */
  const lines = [];
  /** @type {{at: Px, snapped: boolean, what: string}[]} */
  const points = [];
  const line = (/** @type {any} */ pair, /** @type {string} */ what) => pair && lines.push({ a: at(pair[0]), b: at(pair[1]), what });
  const point = (/** @type {any} */ m, /** @type {string} */ what) => m && points.push({ at: at(m), snapped: m.provenance === "snapped", what });
  for (const pair of marks.nail_edges ?? []) line(pair, "diameter");
  line(marks.proximal_axis, "axis");
  line(marks.distal_axis, "axis");
  line(marks.proximal_edge, "edge");
  line(marks.distal_edge, "edge");
  line(marks.knee_line, "joint line");
  line(marks.ankle_line, "joint line");
  point(marks.nail_thick_end, "entry end");
  point(marks.nail_junction, "step");
  point(marks.nail_thin_end, "thin end");
  point(marks.fibula?.head, "fibular head");
  point(marks.fibula?.malleolus, "malleolus");
  point(marks.femoral_head, "femoral head");
  return { lines, points };
}
