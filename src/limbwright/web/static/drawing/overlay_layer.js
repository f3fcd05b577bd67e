/**
 * Lines on the film: axes, walls, nail, screws, osteotomy, apex; fragments differ by line style, states by colour and
 * style together. Labels stand at the pane's edge with a thin leader, never on bone.
 * @module
 */
import { apply, magnification } from "../models/affine.js";
import { middle } from "../models/handles.js";

/** @typedef {import("../models/affine.js").Affine} Affine */
/** @typedef {import("../models/affine.js").Point} Point */
/** @typedef {import("./palette.js").Palette} Palette */
/** @typedef {{colour: "planned"|"seen"|"forecast"|"line"|"faint"|"stop", wide: number, dash?: number[], fill?: number}} Stroke */

/** @type {Record<string, Stroke>} */
const STROKES = {
  "inner wall": { colour: "faint", wide: 0.6, dash: [2, 3] },
  "outer wall": { colour: "faint", wide: 0.6 },
  "joint line": { colour: "seen", wide: 1 },
  "mechanical axis": { colour: "line", wide: 0.8, dash: [8, 4] },
  "bone axis": { colour: "seen", wide: 0.8, dash: [10, 3, 2, 3] },
  "nail line": { colour: "planned", wide: 1, dash: [1.5, 4] },
  "nail, thick part": { colour: "planned", wide: 1.4, fill: 0.3 },
  "nail, thin part": { colour: "planned", wide: 1.2, fill: 0.14 },
  "locking screw": { colour: "planned", wide: 1.2, fill: 0.35 },
  "blocking screw": { colour: "planned", wide: 2 },
  osteotomy: { colour: "line", wide: 1.5 },
  apex: { colour: "seen", wide: 1.5 },
  landmark: { colour: "seen", wide: 1 },
  pin: { colour: "planned", wide: 2, dash: [3, 2] },
  "expected drift": { colour: "forecast", wide: 1.2, fill: 0.28 },
  proposed: { colour: "seen", wide: 2, dash: [6, 4] },
  "proposed, poor": { colour: "stop", wide: 2, dash: [2, 4] },
  "proposed from": { colour: "line", wide: 1 },
  "proposed outer wall": { colour: "seen", wide: 1.4 },
  "proposed inner wall": { colour: "seen", wide: 1.4, dash: [5, 3] },
  "not found": { colour: "stop", wide: 2, dash: [1.5, 4] },
  isthmus: { colour: "seen", wide: 1.4 },
};

/** Kinds whose labels stand at the edge. */
/** Fragments are told apart by line style. @type {Record<string, number[]>} */
const DASHES = { middle: [2, 3], distal: [7, 3] };
const LABELLED = new Set(["osteotomy", "apex", "blocking screw", "pin"]);

/**
 * @param {CanvasRenderingContext2D} context @param {object} what
 * @param {any[]} what.shapes shapes of a drawing, limb plane mm
 * @param {Affine} what.screen_from_mm @param {Palette} what.palette
 * @param {Set<string>} what.hidden kinds not to draw
 * @param {boolean} [what.faint] another leg: thinner
 */
export function drawShapes(context, { shapes, screen_from_mm, palette, hidden, faint = false }) {
  const size = palette.rem / 14;
  for (const shape of shapes) {
    const stroke = STROKES[shape.kind];
    if (!stroke || hidden.has(shape.kind)) continue;
    const points = shape.points_mm.map((/** @type {Point} */ p) => apply(screen_from_mm, p));
    context.save();
    context.globalAlpha = faint ? 0.55 : 1;
    context.strokeStyle = palette[stroke.colour];
    context.fillStyle = palette[stroke.colour];
    context.lineWidth = stroke.wide * size;
    const dash = stroke.dash ?? DASHES[shape.fragment] ?? [];
    context.setLineDash(dash.map((d) => d * size));
    trace(context, shape, points, magnification(screen_from_mm), size);
    if (stroke.fill) {
      context.save();
      context.globalAlpha *= stroke.fill;
      context.fill();
      context.restore();
    }
    context.stroke();
    context.restore();
  }
}

/** @param {CanvasRenderingContext2D} context @param {any} shape @param {Point[]} points @param {number} zoom @param {number} size */
function trace(context, shape, points, zoom, size) {
  const [x, y] = points[0];
  context.beginPath();
  if (shape.kind === "landmark" || shape.kind === "proposed from") {
    const arm = 3.5 * size;
    context.moveTo(x - arm, y);
    context.lineTo(x + arm, y);
    context.moveTo(x, y - arm);
    context.lineTo(x, y + arm);
  } else if (shape.kind === "apex") {
    const arm = 5 * size;
    context.moveTo(x, y - arm);
    context.lineTo(x + arm, y);
    context.lineTo(x, y + arm);
    context.lineTo(x - arm, y);
    context.closePath();
  } else if (points.length === 1) {
    context.arc(x, y, Math.max(2, (shape.radius_mm ?? 0) * zoom), 0, 2 * Math.PI);
  } else {
    points.forEach(([px, py], i) => (i ? context.lineTo(px, py) : context.moveTo(px, py)));
    if (shape.closed) context.closePath();
  }
}

/**
 * Labels in a column at one edge of the pane, each with a leader to what it names; they never lie on each other.
 * @param {CanvasRenderingContext2D} context
 * @param {{at: Point, words: string, colour: "planned"|"seen"|"line"}[]} labels screen places
 * @param {Palette} palette @param {{wide: number, high: number}} screen
 */
export function drawLabels(context, labels, palette, screen) {
  const text = palette.rem * 0.82;
  const row = text * 1.5;
  context.save();
  context.font = `${text}px ${palette.font}`;
  context.textBaseline = "middle";
  const wanted = labels.filter((l) => l.at[1] > 0 && l.at[1] < screen.high).sort((a, b) => a.at[1] - b.at[1]);
  let free = row;
  const placed = wanted.map((label) => {
    const y = Math.max(free, label.at[1]);
    free = y + row;
    return { ...label, y };
  });
  // The edge with more room between it and what is named.
  const edge = middle(wanted.map((l) => l.at))[0] <= screen.wide / 2 ? "right" : "left";
  const over = free - row - (screen.high - row / 2);
  for (const label of placed) {
    const y = over > 0 ? Math.max(row / 2, label.y - over) : label.y;
    const wide = context.measureText(label.words).width;
    const start = edge === "right" ? screen.wide - wide - text * 0.9 : text * 0.7;
    const near = edge === "right" ? start - text * 0.4 : start + wide + text * 0.4;
    context.strokeStyle = palette.faint;
    context.lineWidth = palette.rem / 18;
    context.beginPath();
    context.moveTo(label.at[0], label.at[1]);
    context.lineTo(near, y);
    context.stroke();
    context.fillStyle = palette.halo;
    context.fillRect(start - text * 0.3, y - row / 2 + 1, wide + text * 0.6, row - 2);
    context.fillStyle = palette[label.colour];
    context.fillText(label.words, start, y);
  }
  context.restore();
}

/**
 * What the edge labels say. @param {any[]} shapes @param {any[]} bones bones of the plan
 * @param {Affine} screen_from_mm @returns {{at: Point, words: string, colour: "planned"|"seen"|"line"}[]}
 */
export function labelsOf(shapes, bones, screen_from_mm) {
  const found = [];
  const told = new Set();
  for (const shape of shapes) {
    if (!LABELLED.has(shape.kind)) continue;
    const bone = bones.find((b) => b.bone === shape.bone);
    const at = apply(screen_from_mm, middle(shape.points_mm));
    const words = labelWords(shape, bone);
    // Both faces of a cut say the same; the upper one comes first and says it.
    if (shape.kind === "osteotomy" && told.has(shape.bone + words)) continue;
    told.add(shape.bone + words);
    if (words) found.push({ at, words, colour: /** @type {any} */ (STROKES[shape.kind].colour) });
  }
  return found;
}

/** @param {any} shape @param {any} bone @returns {string} */
function labelWords(shape, bone) {
  if (shape.kind === "apex") return shape.label.replace("level of the apex of the", "apex level,");
  if (!bone) return shape.label;
  if (shape.kind === "osteotomy") {
    const second = bone.second && shape.label.startsWith("second");
    const cut = second ? bone.second.osteotomy : bone.osteotomy;
    return `${second ? "second osteotomy" : "osteotomy"} ${cut.below_joint_mm.toFixed(0)} mm below the joint`;
  }
  if (shape.kind === "pin") {
    const pin = bone.pins?.[Number(shape.id?.split("/").at(-1))];
    return pin ? `${/marker/.test(pin.role) ? "rotation mark" : "pin"} ${pin.below_joint_mm.toFixed(0)} mm` : "";
  }
  const screw = bone.blocking_screws[Number(shape.id?.split("/").at(-1))];
  return screw ? `blocking ${screw.diameter_mm.toFixed(1)}, ${screw.side}, ${screw.offset_mm.toFixed(1)} mm off` : "";
}
