/**
 * One film of the light table: picture, lines, and the things that can be taken hold of.
 *
 * Screen pixels inside the pane; everything that is passed in or out is in limb plane millimetres of the treated leg.
 * @module
 */
import { after, apply, inverse, magnification } from "../models/affine.js";
import { allowed } from "../models/handles.js";
import { mmAt, screenFromMm, zoomedAt } from "../models/view.js";
import { drawFilm } from "../drawing/film_layer.js";
import { drawLabels, drawShapes, labelsOf } from "../drawing/overlay_layer.js";
import { drawLoupe } from "../drawing/loupe.js";
import { HandleLayer } from "./handle_layer.js";

/** @typedef {import("../models/affine.js").Affine} Affine */
/** @typedef {import("../models/affine.js").Point} Point */
/** @typedef {import("../models/view.js").View} View */
/** @typedef {import("../models/handles.js").Handle} Handle */
/**
 * @typedef {object} Scene what a pane shows now
 * @property {any} film header of the film, or null
 * @property {Affine} mm_from_px
 * @property {1|-1} across_sign
 * @property {import("../drawing/film_layer.js").Piece[]} pieces
 * @property {any[]} shapes @property {any[]} bones
 * @property {any[]} ghosts what the film proposes
 * @property {any[]} other_shapes lines of the other leg, already in this leg's millimetres
 * @property {Handle[]} handles
 * @property {any} look
 * @property {Set<string>} hidden
 * @property {string|null} placing words of the landmark to be placed here
 * @property {{key: string, words: string, stopped: boolean}|null} pulled
 */
/**
 * @typedef {object} Host what the table does with what happens here
 * @property {(pane: FilmPane, view: View) => void} viewed
 * @property {(pane: FilmPane, handle: Handle, moved_mm: Point, phase: "start"|"move"|"end"|"cancel") => void} pulled
 * @property {(pane: FilmPane, at_mm: Point, how: "click"|"enter") => void} placed Enter: the cross was not moved since the last time
 */

/** @type {Set<string>} */
const NONE_HIDDEN = new Set();

export class FilmPane {
  /**
   * @param {HTMLElement} root @param {"frontal"|"sagittal"} projection
   * @param {import("../drawing/tile_store.js").TileStore} tiles @param {Host} host
   */
  constructor(root, projection, tiles, host) {
    this.root = root;
    this.projection = projection;
    this.tiles = tiles;
    this.host = host;
    /** @type {View} */
    this.view = { zoom: 1, middle_across_mm: 0, middle_proximal_mm: 0 };
    /** @type {Scene|null} */
    this.scene = null;
    /** @type {import("../drawing/palette.js").Palette|null} */
    this.palette = null;
    /** @type {Point|null} where the loupe looks, mm */
    this.loupe_mm = null;
    /** @type {Point} keyboard crosshair while placing */
    this.cursor_mm = [0, 0];
    /** The cross was moved by keys since something was placed. */
    this.stepped = false;
    this.canvas = document.createElement("canvas");
    this.canvas.setAttribute("aria-hidden", "true");
    root.append(this.canvas);
    this.handles = new HandleLayer(root, this);
    root.addEventListener("wheel", (e) => this.#wheel(e), { passive: false });
    root.addEventListener("pointerdown", (e) => this.#down(e));
    root.addEventListener("keydown", (e) => this.#key(e));
    root.addEventListener("pointermove", (e) => this.#hover(e));
    root.addEventListener("pointerleave", () => this.#leave());
    root.addEventListener("focus", () => this.#focused());
    root.addEventListener("blur", () => this.draw());
  }

  get screen() {
    return { wide: this.root.clientWidth, high: this.root.clientHeight, ratio: window.devicePixelRatio || 1 };
  }

  get screen_from_mm() {
    const { wide, high } = this.screen;
    return screenFromMm(this.view, this.scene?.across_sign ?? 1, wide, high);
  }

  /** @param {Scene} scene @param {View} view @param {import("../drawing/palette.js").Palette} palette */
  show(scene, view, palette) {
    this.scene = scene;
    this.view = view;
    this.palette = palette;
    this.draw();
  }

  draw() {
    const { scene, palette } = this;
    if (!scene || !palette) return;
    const { wide, high, ratio } = this.screen;
    const [w, h] = [Math.round(wide * ratio), Math.round(high * ratio)];
    if (this.canvas.width !== w || this.canvas.height !== h) {
      this.canvas.width = w;
      this.canvas.height = h;
    }
    const context = /** @type {CanvasRenderingContext2D} */ (this.canvas.getContext("2d", { alpha: false }));
    context.setTransform(ratio, 0, 0, ratio, 0, 0);
    context.fillStyle = palette.film;
    context.fillRect(0, 0, wide, high);
    const screen_from_mm = this.screen_from_mm;
    if (scene.film) drawFilm(context, { ...scene, film: scene.film, tiles: this.tiles, screen_from_mm, screen: this.screen });
    drawShapes(context, { shapes: scene.other_shapes, screen_from_mm, palette, hidden: scene.hidden, faint: true });
    drawShapes(context, { shapes: scene.shapes, screen_from_mm, palette, hidden: scene.hidden });
    drawShapes(context, { shapes: scene.ghosts, screen_from_mm, palette, hidden: NONE_HIDDEN });
    if (!scene.hidden.has("labels"))
      drawLabels(context, labelsOf(scene.shapes, scene.bones, screen_from_mm), palette, this.screen);
    if (scene.placing && document.activeElement === this.root) this.#crosshair(context, screen_from_mm);
    const at = this.loupe_mm;
    if (at && scene.film) drawLoupe(context, { scene, tiles: this.tiles, palette, screen: this.screen, at_mm: at, screen_from_mm });
    this.handles.show(scene.handles, screen_from_mm, scene.pulled);
    // Where film pixels lie on the screen, for scripts and tests.
    this.root.dataset.screenFromPx = JSON.stringify(after(screen_from_mm, scene.mm_from_px));
    this.root.dataset.crossPx = JSON.stringify(this.pxOf(this.cursor_mm));
    this.root.classList.toggle("placing", Boolean(scene.placing));
  }

  /** @param {CanvasRenderingContext2D} context @param {Affine} screen_from_mm */
  #crosshair(context, screen_from_mm) {
    const [x, y] = apply(screen_from_mm, this.cursor_mm);
    const palette = /** @type {import("../drawing/palette.js").Palette} */ (this.palette);
    context.strokeStyle = palette.seen;
    context.lineWidth = 1.5;
    context.beginPath();
    for (const [dx, dy] of [[1, 0], [-1, 0], [0, 1], [0, -1]]) {
      context.moveTo(x + 4 * dx, y + 4 * dy);
      context.lineTo(x + 18 * dx, y + 18 * dy);
    }
    context.stroke();
  }

  /** @param {PointerEvent|WheelEvent} event @returns {Point} */
  mmOf(event) {
    const box = this.root.getBoundingClientRect();
    return mmAt(this.screen_from_mm, [event.clientX - box.left, event.clientY - box.top]);
  }

  /** @param {WheelEvent} event */
  #wheel(event) {
    event.preventDefault();
    const step = event.deltaMode === 1 ? event.deltaY * 18 : event.deltaY;
    this.host.viewed(this, zoomedAt(this.view, Math.exp(-step * 0.0016), this.mmOf(event)));
  }

  /** A drag on the film itself pans; a click places the landmark that is asked for. @param {PointerEvent} event */
  #down(event) {
    if (event.button > 1 || (event.target !== this.root && event.target !== this.canvas)) return;
    const start = { x: event.clientX, y: event.clientY, view: this.view };
    const pointer = event.pointerId;
    let panned = false;
    this.root.setPointerCapture(pointer);
    const move = (/** @type {PointerEvent} */ e) => {
      const [dx, dy] = [e.clientX - start.x, e.clientY - start.y];
      if (!panned && Math.hypot(dx, dy) < 4) return;
      panned = true;
      const sign = this.scene?.across_sign ?? 1;
      this.host.viewed(this, {
        zoom: this.view.zoom,
        middle_across_mm: start.view.middle_across_mm - (sign * dx) / this.view.zoom,
        middle_proximal_mm: start.view.middle_proximal_mm + dy / this.view.zoom,
      });
    };
    const up = (/** @type {PointerEvent} */ e) => {
      this.root.removeEventListener("pointermove", move);
      this.root.removeEventListener("pointerup", up);
      this.root.removeEventListener("pointercancel", up);
      if (!panned && e.type === "pointerup" && this.scene?.placing) this.host.placed(this, this.mmOf(e), "click");
    };
    this.root.addEventListener("pointermove", move);
    this.root.addEventListener("pointerup", up);
    this.root.addEventListener("pointercancel", up);
  }

  /** @param {PointerEvent} event */
  #hover(event) {
    if (!this.scene?.placing || event.buttons) return;
    this.loupe_mm = this.mmOf(event);
    this.cursor_mm = this.loupe_mm;
    this.stepped = false;
    this.draw();
  }

  #leave() {
    if (!this.scene?.placing) return;
    this.loupe_mm = null;
    this.draw();
  }

  /** The keyboard's crosshair starts where it can be seen. */
  #focused() {
    const { wide, high } = this.screen;
    const [x, y] = apply(this.screen_from_mm, this.cursor_mm);
    if (x < 0 || y < 0 || x > wide || y > high) this.cursor_mm = mmAt(this.screen_from_mm, [wide / 2, high / 2]);
    this.draw();
  }

  /** @param {KeyboardEvent} event */
  #key(event) {
    if (event.target !== this.root || event.ctrlKey || event.metaKey) return;
    const sign = this.scene?.across_sign ?? 1;
    /** @type {Record<string, Point>} */
    const arrows = { ArrowLeft: [-sign, 0], ArrowRight: [sign, 0], ArrowUp: [0, 1], ArrowDown: [0, -1] };
    const way = arrows[event.key];
    if (way && this.scene?.placing) {
      const step = event.shiftKey ? 10 : event.altKey ? 0.1 : 1;
      this.cursor_mm = [this.cursor_mm[0] + step * way[0], this.cursor_mm[1] + step * way[1]];
      this.loupe_mm = this.cursor_mm;
      this.stepped = true;
      this.draw();
    } else if (way) {
      const step = 40 / this.view.zoom;
      this.host.viewed(this, {
        ...this.view,
        middle_across_mm: this.view.middle_across_mm + step * way[0],
        middle_proximal_mm: this.view.middle_proximal_mm + step * way[1],
      });
    } else if (event.key === "Enter" && this.scene?.placing) {
      const moved = this.stepped;
      this.stepped = false;
      this.host.placed(this, this.cursor_mm, moved ? "click" : "enter");
    } else if (event.key === "+" || event.key === "=" || event.key === "-") {
      const middle = /** @type {Point} */ ([this.view.middle_across_mm, this.view.middle_proximal_mm]);
      this.host.viewed(this, zoomedAt(this.view, event.key === "-" ? 1 / 1.25 : 1.25, middle));
    } else return;
    event.preventDefault();
    event.stopPropagation();
  }

  /** Called by the handles. @param {Handle} handle @param {Point} moved_mm @param {"start"|"move"|"end"|"cancel"} phase */
  pulled(handle, moved_mm, phase) {
    const moved = allowed(handle, moved_mm);
    const from = handle.look_mm ?? handle.at_mm;
    const film_mm = /** @type {Point} */ ([from[0] + moved[0], from[1] + moved[1]]);
    this.loupe_mm = phase === "start" || phase === "move" ? film_mm : null;
    if (handle.pulled) handle.pulled(moved, phase);
    else this.host.pulled(this, handle, moved, phase);
    if (handle.pulled) this.draw();
  }

  /** Film pixel under a point as it stands. @param {Point} at_mm @returns {Point} */
  pxOf(at_mm) {
    return apply(inverse(/** @type {Scene} */ (this.scene).mm_from_px), at_mm);
  }

  /** Screen pixels that one film pixel takes. */
  get magnified() {
    return this.scene ? magnification(after(this.screen_from_mm, this.scene.mm_from_px)) : 1;
  }
}
