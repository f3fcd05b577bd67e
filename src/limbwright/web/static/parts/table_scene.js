/**
 * What both panes show at an instant: which film, cut and moved how, with which lines and handles.
 * @module
 */
import { IDENTITY, after, apply } from "../models/affine.js";
import { pieces } from "../models/cut.js";
import { planHandles } from "../models/handles.js";
import { motionsAt } from "../models/time_axis.js";
import { filmAlone } from "../models/view.js";
import { columnsOutline } from "../drawing/film_layer.js";
import { plain } from "../models/wording.js";

/** @typedef {import("../models/affine.js").Affine} Affine */
/** @typedef {import("../models/affine.js").Point} Point */
/** @typedef {"frontal"|"sagittal"} Projection */
/** @typedef {{header: any, name: string, side: string, mm_from_px: Affine, px_from_mm: Affine|null, legs: any[], scaled: boolean, scale: any, columns: [number, number]|null}} Shown */

/** Kinds that belong to the plan, not to the leg as it stands. */
const PLAN_KINDS = new Set(["nail line", "nail, thick part", "nail, thin part", "locking screw", "blocking screw", "pin", "osteotomy"]);

/**
 * The film of one plane: the one that shows the treated leg.
 * @param {any} document_case @param {any} answer @param {Record<string, any>} headers film headers by sha256
 * @param {Projection} projection @returns {Shown|null}
 */
export function filmShown(document_case, answer, headers, projection) {
  const mapped = (answer?.films ?? []).filter((/** @type {any} */ f) => f.projection === projection);
  const treated = mapped.find((/** @type {any} */ f) => f.legs.some((/** @type {any} */ l) => l.treated));
  const films = document_case.films.filter((/** @type {any} */ f) => f.projection === projection);
  const doc =
    films.find((/** @type {any} */ f) => f.name === treated?.film) ??
    films.find((/** @type {any} */ f) => f[document_case.side] && Object.keys(f[document_case.side]).length) ??
    films.find((/** @type {any} */ f) => new RegExp(`\\b${document_case.side}\\b`).test(f.name)) ??
    films[0];
  if (!doc) return null;
  const header = headers[doc.sha256] ?? null;
  const leg = treated?.legs.find((/** @type {any} */ l) => l.treated);
  const scale = treated?.scale ?? mapped.find((/** @type {any} */ f) => f.film === doc.name)?.scale ?? header?.scale ?? null;
  return {
    header,
    name: doc.name,
    side: document_case.side,
    mm_from_px: leg?.mm_from_px ?? filmAlone(doc.width_px, doc.height_px, scale?.row_mm ?? 0.2),
    px_from_mm: leg?.px_from_mm ?? null,
    legs: treated?.legs ?? [],
    scaled: Boolean(leg || scale),
    scale,
    columns: leg?.columns_px ?? null,
  };
}

/** Which way the across axis runs on the screen: films keep the sides they were hung with. @param {Shown|null} shown @returns {1|-1} */
export function acrossSign(shown) {
  return shown && shown.mm_from_px[0][0] < 0 ? -1 : 1;
}

/**
 * The film in pieces: the treated leg's columns cut at the osteotomies, the rest of the film unmoved.
 * @param {Shown} shown @param {any} days @param {any} instant @param {Projection} projection
 * @param {{motions: Affine[], cuts: any[]}|null} dragged
 */
export function filmPieces(shown, days, instant, projection, dragged) {
  if (!shown.header) return [];
  const film = shown.header;
  const [from, to] = shown.columns ?? [0, film.width_px];
  const outline = columnsOutline(film, shown.mm_from_px, from, to);
  const cuts = dragged?.cuts ?? (days?.cuts ?? []).map((/** @type {any} */ c) => c[projection]).filter(Boolean);
  const found = [];
  if (from > 0) found.push({ outline_mm: columnsOutline(film, shown.mm_from_px, 0, from), motion: IDENTITY });
  if (to < film.width_px) found.push({ outline_mm: columnsOutline(film, shown.mm_from_px, to, film.width_px), motion: IDENTITY });
  const about = [...cuts.map((/** @type {any} */ c) => c.point_mm), cuts.at(-1)?.point_mm ?? [0, 0]];
  const motions = dragged?.motions ?? (days ? motionsAt(days.moments, instant, projection, about) : []);
  if (!cuts.length || motions.length !== cuts.length + 1) return [...found, { outline_mm: outline, motion: motions[0] ?? IDENTITY }];
  // Distal first, so that where pieces meet the proximal one lies on top.
  const parts = pieces(outline, cuts).map((part, i) => ({ outline_mm: part, motion: motions[i] }));
  return [...found, ...parts.reverse()];
}

/** Cuts as they stand while an osteotomy is dragged: shifted along the bone. @param {any} days @param {Projection} projection @param {any} change @param {any[]} bones */
export function draggedCuts(days, projection, change, bones) {
  return (days?.cuts ?? [])
    .map((/** @type {any} */ c) => {
      const cut = c[projection];
      const bone = bones.find((b) => b.bone === c.bone);
      if (!cut || change?.kind !== "osteotomy" || change.bone !== c.bone || c.lengthens === false || !bone) return cut;
      const [dx, dy] = cut.along_mm;
      const size = Math.hypot(dx, dy) * (dx >= 0 ? 1 : -1);
      const shift = change.below_joint_mm - bone.osteotomy.below_joint_mm;
      return { ...cut, point_mm: [cut.point_mm[0] + (shift * dy) / size, cut.point_mm[1] - (shift * dx) / size] };
    })
    .filter(Boolean);
}

/** Lines of the other leg, brought into the treated leg's millimetres through the film they share. @param {Shown|null} shown @param {any} lines @param {Projection} projection */
export function otherLegShapes(shown, lines, projection) {
  const other = shown?.legs.find((l) => !l.treated);
  const drawing = other && lines?.[other.side]?.[projection];
  if (!shown || !drawing) return [];
  const across = after(shown.mm_from_px, other.px_from_mm);
  return drawing.shapes.map((/** @type {any} */ s) => ({ ...s, id: null, points_mm: s.points_mm.map((/** @type {Point} */ p) => apply(across, p)) }));
}

/**
 * Landmarks of one film as things to take hold of. @param {Shown|null} shown @param {any} document_case
 * @returns {import("../models/handles.js").Handle[]}
 */
export function landmarkHandles(shown, document_case) {
  const film = shown && document_case.films.find((/** @type {any} */ f) => f.name === shown.name);
  if (!film || !shown) return [];
  const shift = (/** @type {any} */ mark, /** @type {Point} */ moved) => {
    // Millimetres of the plane to film pixels: the linear part only, the point's own pixel is the origin.
    const [[a, b], [d, e]] = shown.mm_from_px;
    const area = a * e - b * d;
    return { x_px: mark.x_px + (e * moved[0] - b * moved[1]) / area, y_px: mark.y_px + (a * moved[1] - d * moved[0]) / area };
  };
  return ["right", "left"].flatMap((side) =>
    Object.entries(film[side] ?? {}).map(([landmark, mark]) => ({
      key: `landmark/${film.name}/${side}/${landmark}`,
      kind: /** @type {"landmark"} */ ("landmark"),
      words: `${plain(landmark)}, ${side} leg`,
      at_mm: apply(shown.mm_from_px, [mark.x_px, mark.y_px]),
      along_mm: /** @type {Point} */ ([0, 0]),
      change: (/** @type {Point} */ moved) => ({ kind: "landmark", film: film.name, side, landmark, ...shift(mark, moved) }),
    })),
  );
}

/** What can be dragged in a plan drawing. @param {any} drawing @param {any[]} bones @param {Projection} projection */
export function planHandlesOf(drawing, bones, projection) {
  return drawing ? planHandles(drawing, bones, projection) : [];
}

/** Landmarks by the bone whose ends they mark. @type {Record<string, RegExp>} */
const MARKS_OF = { femur: /femor|femur|trochanter|plateau/, tibia: /tibia|plateau|plafond|ankle|malleol|fibular|condyle/ };

/** Room to show: the whole leg, or one bone with both its joints; the whole film while nothing is marked.
 * @param {Shown} shown @param {any} document_case @param {any[]} shapes @param {string|null} bone */
export function boxOf(shown, document_case, shapes, bone) {
  const film = document_case.films.find((/** @type {any} */ f) => f.name === shown.name);
  const marks = Object.entries(film?.[shown.side] ?? {}).filter(([name]) => !bone || MARKS_OF[bone]?.test(name));
  const points = [
    ...marks.map(([, m]) => apply(shown.mm_from_px, [/** @type {any} */ (m).x_px, /** @type {any} */ (m).y_px])),
    ...shapes.filter((s) => !bone && !PLAN_KINDS.has(s.kind)).flatMap((s) => s.points_mm),
  ];
  const use = points.length > 3 ? points : columnsOutline(film, shown.mm_from_px, 0, film.width_px);
  const xs = use.map((p) => p[0]);
  const ys = use.map((p) => p[1]);
  const margin = 18;
  return {
    low: /** @type {Point} */ ([Math.min(...xs) - margin, Math.min(...ys) - margin]),
    high: /** @type {Point} */ ([Math.max(...xs) + margin, Math.max(...ys) + margin]),
  };
}
