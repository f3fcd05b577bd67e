/**
 * Which tiles of a film pyramid a view needs. Pure.
 * Level 0 is the whole film in one tile, `max_level` full resolution; each level has half the size of the next.
 * @module
 */

/** @typedef {{low: [number, number], high: [number, number]}} Box in film pixels */
/** @typedef {{width_px: number, height_px: number, tile_size: number, max_level: number}} Pyramid */
/** @typedef {{level: number, x: number, y: number, left_px: number, top_px: number, wide_px: number, high_px: number}} Tile */

/**
 * The coarsest level that is not blurred when one film pixel takes `screen_px` of the screen.
 * @param {Pyramid} pyramid @param {number} screen_px @returns {number}
 */
export function levelFor(pyramid, screen_px) {
  const level = Math.ceil(pyramid.max_level + Math.log2(Math.max(screen_px, 1e-6)) - 0.15);
  return Math.min(pyramid.max_level, Math.max(0, level));
}

/**
 * Tiles of one level that touch a box; their places in full-resolution pixels, the film's top left corner at 0, 0.
 * @param {Pyramid} pyramid @param {number} level @param {Box} box @returns {Tile[]}
 */
export function tilesIn(pyramid, level, box) {
  const fold = 2 ** (pyramid.max_level - level);
  const level_wide = Math.ceil(pyramid.width_px / fold);
  const level_high = Math.ceil(pyramid.height_px / fold);
  const span = pyramid.tile_size;
  const first = (/** @type {number} */ v) => Math.max(0, Math.floor(v / fold / span));
  const last = (/** @type {number} */ v, /** @type {number} */ size) =>
    Math.min(Math.ceil(size / span) - 1, Math.floor(v / fold / span));
  /** @type {Tile[]} */
  const tiles = [];
  for (let y = first(box.low[1]); y <= last(box.high[1], level_high); y += 1) {
    for (let x = first(box.low[0]); x <= last(box.high[0], level_wide); x += 1) {
      tiles.push({
        level,
        x,
        y,
        left_px: x * span * fold,
        top_px: y * span * fold,
        wide_px: Math.min(span, level_wide - x * span) * fold,
        high_px: Math.min(span, level_high - y * span) * fold,
      });
    }
  }
  return tiles;
}
