/**
 * A film on a canvas: whole, or cut at the osteotomies with every piece moved by its own map.
 *
 * One painter for both: tiles are drawn through an affine map and a clip outline per piece, so that the moved film is as
 * sharp as the standing one and stands at the same millimetre scale.
 * @module
 */
import { after, apply, inverse, magnification } from "../models/affine.js";
import { levelFor, tilesIn } from "../models/pyramid.js";
import { tileUrl } from "./tile_store.js";

/** @typedef {import("../models/affine.js").Affine} Affine */
/** @typedef {import("../models/affine.js").Point} Point */
/** @typedef {{outline_mm: Point[], motion: Affine}} Piece */

/** Tile coordinates count from the film's corner, film pixels from the centre of its first pixel. @type {Affine} */
const PX_FROM_CORNER = [[1, 0, -0.5], [0, 1, -0.5]];

/**
 * @param {CanvasRenderingContext2D} context in screen pixels
 * @param {object} what
 * @param {any} what.film header of the film (GET /api/films)
 * @param {import("./tile_store.js").TileStore} what.tiles
 * @param {any} what.look
 * @param {Affine} what.mm_from_px @param {Affine} what.screen_from_mm
 * @param {Piece[]} what.pieces @param {{wide: number, high: number, ratio: number}} what.screen
 */
export function drawFilm(context, { film, tiles, look, mm_from_px, screen_from_mm, pieces, screen }) {
  for (const piece of pieces) {
    if (piece.outline_mm.length < 3) continue;
    const placed = after(screen_from_mm, piece.motion);
    const outline = piece.outline_mm.map((p) => apply(placed, p));
    if (outside(outline, screen)) continue;
    const total = after(after(placed, mm_from_px), PX_FROM_CORNER);
    context.save();
    context.beginPath();
    outline.forEach(([x, y], i) => (i ? context.lineTo(x, y) : context.moveTo(x, y)));
    context.closePath();
    context.clip();
    drawTiles(context, film, tiles, look, total, screen);
    context.restore();
  }
}

/** @param {CanvasRenderingContext2D} context @param {any} film @param {import("./tile_store.js").TileStore} tiles @param {any} look @param {Affine} total @param {{wide: number, high: number, ratio: number}} screen */
function drawTiles(context, film, tiles, look, total, screen) {
  const back = inverse(total);
  const corners = /** @type {Point[]} */ ([[0, 0], [screen.wide, 0], [0, screen.high], [screen.wide, screen.high]]);
  const seen = corners.map((c) => apply(back, c));
  const box = {
    low: /** @type {Point} */ ([Math.min(...seen.map((p) => p[0])), Math.min(...seen.map((p) => p[1]))]),
    high: /** @type {Point} */ ([Math.max(...seen.map((p) => p[0])), Math.max(...seen.map((p) => p[1]))]),
  };
  const wanted = levelFor(film, magnification(total) * screen.ratio);
  context.transform(total[0][0], total[1][0], total[0][1], total[1][1], total[0][2], total[1][2]);
  context.imageSmoothingEnabled = true;
  context.imageSmoothingQuality = "high";
  const levels = wanted === 0 ? [0] : wanted > 2 ? [0, wanted - 2, wanted] : [0, wanted];
  for (const level of levels) {
    for (const tile of tilesIn(film, level, box)) {
      const image = tiles.get(tileUrl(film, tile, look)) ?? (level === 0 ? tiles.get(tileUrl(film, tile, null)) : null);
      // Half a pixel more on two sides closes the hairline between neighbours.
      const seam = 0.5 / magnification(total);
      if (image) context.drawImage(image, tile.left_px, tile.top_px, tile.wide_px + seam, tile.high_px + seam);
    }
  }
}

/** @param {Point[]} outline @param {{wide: number, high: number}} screen */
function outside(outline, screen) {
  return (
    outline.every((p) => p[0] < 0) ||
    outline.every((p) => p[1] < 0) ||
    outline.every((p) => p[0] > screen.wide) ||
    outline.every((p) => p[1] > screen.high)
  );
}

/** Corners of some columns of a film in limb plane mm. @param {any} film @param {Affine} mm_from_px @param {number} from @param {number} to @returns {Point[]} */
export function columnsOutline(film, mm_from_px, from, to) {
  const low = -0.5;
  const high = film.height_px - 0.5;
  return /** @type {Point[]} */ ([[from - 0.5, low], [to - 0.5, low], [to - 0.5, high], [from - 0.5, high]]).map((p) =>
    apply(mm_from_px, p),
  );
}
