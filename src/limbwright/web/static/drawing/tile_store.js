/**
 * Tiles of films, loaded once and kept while they are wanted.
 * @module
 */

/** Tiles kept in memory: two 4K panes twice over. */
const KEPT = 600;

export class TileStore {
  /** @param {() => void} arrived called when a tile came in */
  constructor(arrived) {
    this.arrived = arrived;
    /** @type {Map<string, HTMLImageElement>} */
    this.images = new Map();
  }

  /** The tile when it is there; otherwise it is sent for. @param {string} url @returns {HTMLImageElement | null} */
  get(url) {
    let image = this.images.get(url);
    if (image) {
      this.images.delete(url);
      this.images.set(url, image);
      return image.complete && image.naturalWidth > 0 ? image : null;
    }
    image = new Image();
    image.decoding = "async";
    image.onload = () => this.arrived();
    image.onerror = () => setTimeout(() => this.images.delete(url), 2000);
    image.src = url;
    this.images.set(url, image);
    if (this.images.size > KEPT) {
      const oldest = this.images.keys().next().value;
      if (oldest !== undefined) this.images.delete(oldest);
    }
    return null;
  }
}

/**
 * @param {{tile_url: string}} film @param {{level: number, x: number, y: number}} tile
 * @param {{centre: number, width: number, shape?: string} | null} look null = the film's own
 */
export function tileUrl(film, tile, look) {
  const path = film.tile_url
    .replace("{level}", String(tile.level))
    .replace("{x}", String(tile.x))
    .replace("{y}", String(tile.y));
  if (!look) return path;
  const shape = look.shape ? `&s=${encodeURIComponent(look.shape)}` : "";
  return `${path}?c=${Math.round(look.centre)}&w=${Math.max(1, Math.round(look.width))}${shape}`;
}
