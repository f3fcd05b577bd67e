/**
 * Things on a film that can be taken hold of: real buttons over the canvas, so that mouse, touch and keyboard do the same.
 * Arrows nudge by 0.1 mm, with shift by 1 mm; Enter keeps, Escape lets go, Delete takes away what can be taken away.
 * @module
 */
import { apply } from "../models/affine.js";
import { allowed } from "../models/handles.js";

/** @typedef {import("../models/affine.js").Affine} Affine */
/** @typedef {import("../models/affine.js").Point} Point */
/** @typedef {import("../models/handles.js").Handle} Handle */

const NUDGE_MM = { fine: 0.1, coarse: 1 };
/** A row of nudges is one change; it is kept when no key came for so long. [ms] */
const KEEP_AFTER = 900;

export class HandleLayer {
  /** @param {HTMLElement} root @param {import("./film_pane.js").FilmPane} pane */
  constructor(root, pane) {
    this.pane = pane;
    this.layer = document.createElement("div");
    this.layer.className = "handles";
    root.append(this.layer);
    /** @type {Map<string, {button: HTMLButtonElement, handle: Handle}>} */
    this.shown = new Map();
    /** @type {{handle: Handle, moved: Point, timer: number} | null} */
    this.nudged = null;
    /** How far something that no plan hangs on has been pulled. @type {{key: string, moved: Point} | null} */
    this.carried = null;
    this.says = document.createElement("div");
    this.says.className = "pull-words";
    this.says.hidden = true;
    this.says.setAttribute("role", "status");
    this.layer.append(this.says);
  }

  /** @param {Handle[]} handles @param {Affine} screen_from_mm @param {{key: string, words: string, stopped: boolean}|null} pulled */
  show(handles, screen_from_mm, pulled) {
    const { wide, high } = this.pane.screen;
    const kept = new Set();
    for (const handle of handles) {
      kept.add(handle.key);
      const known = this.shown.get(handle.key) ?? this.#made(handle);
      known.handle = handle;
      const carried = this.carried?.key === handle.key ? this.carried.moved : [0, 0];
      const [x, y] = apply(screen_from_mm, [handle.at_mm[0] + carried[0], handle.at_mm[1] + carried[1]]);
      const away = x < -4 || y < -4 || x > wide + 4 || y > high + 4;
      known.button.hidden = away && document.activeElement !== known.button;
      known.button.style.translate = `${x}px ${y}px`;
      if (known.button.getAttribute("aria-label") !== handle.words) known.button.setAttribute("aria-label", handle.words);
      known.button.title = handle.words;
    }
    for (const [key, { button }] of this.shown) {
      if (kept.has(key)) continue;
      button.remove();
      this.shown.delete(key);
    }
    this.#say(pulled, screen_from_mm, wide, high);
  }

  /** @param {{key: string, words: string, stopped: boolean}|null} pulled @param {Affine} screen_from_mm @param {number} wide @param {number} high */
  #say(pulled, screen_from_mm, wide, high) {
    const at = pulled ? this.shown.get(pulled.key) : undefined;
    this.says.hidden = !pulled || !at;
    if (!pulled || !at) return;
    if (this.says.textContent !== pulled.words) this.says.textContent = pulled.words;
    this.says.classList.toggle("stopped", pulled.stopped);
    const [x, y] = apply(screen_from_mm, at.handle.at_mm);
    const box = this.says.getBoundingClientRect();
    const left = Math.max(4, Math.min(x + 16, wide - box.width - 4));
    const top = Math.max(4, Math.min(y + 16, high - box.height - 4));
    this.says.style.translate = `${left}px ${top}px`;
  }

  /** @param {string} key */
  focus(key) {
    this.shown.get(key)?.button.focus();
  }

  /** @param {Handle} handle */
  #made(handle) {
    const button = document.createElement("button");
    button.type = "button";
    button.className = `handle ${handle.kind}`;
    button.dataset.key = handle.key;
    const known = { button, handle };
    this.shown.set(handle.key, known);
    button.addEventListener("pointerdown", (e) => this.#grab(e, known));
    button.addEventListener("keydown", (e) => this.#key(e, known));
    button.addEventListener("blur", () => this.#keep());
    this.layer.append(button);
    return known;
  }

  /** @param {PointerEvent} event @param {{button: HTMLButtonElement, handle: Handle}} known */
  #grab(event, known) {
    if (event.button !== 0) return;
    event.stopPropagation();
    this.#keep();
    const { button, handle } = known;
    const start = this.pane.mmOf(event);
    button.setPointerCapture(event.pointerId);
    button.classList.add("held");
    let moved = /** @type {Point} */ ([0, 0]);
    let begun = false;
    const move = (/** @type {PointerEvent} */ e) => {
      const at = this.pane.mmOf(e);
      moved = [at[0] - start[0], at[1] - start[1]];
      if (!begun && Math.hypot(moved[0], moved[1]) * this.pane.view.zoom < 2) return;
      this.#pulled(handle, moved, begun ? "move" : "start");
      begun = true;
    };
    const end = (/** @type {Event} */ e) => {
      if (e instanceof KeyboardEvent && e.key !== "Escape") return;
      button.removeEventListener("pointermove", move);
      for (const kind of ["pointerup", "pointercancel"]) button.removeEventListener(kind, end);
      document.removeEventListener("keydown", end, true);
      button.classList.remove("held");
      if (begun) this.#pulled(handle, moved, e.type === "pointerup" ? "end" : "cancel");
      else if (e.type === "pointerup") known.handle.pressed?.();
    };
    button.addEventListener("pointermove", move);
    button.addEventListener("pointerup", end);
    button.addEventListener("pointercancel", end);
    document.addEventListener("keydown", end, true);
  }

  /** @param {KeyboardEvent} event @param {{button: HTMLButtonElement, handle: Handle}} known */
  #key(event, known) {
    if (event.ctrlKey || event.metaKey) return;
    const sign = this.pane.scene?.across_sign ?? 1;
    /** @type {Record<string, Point>} */
    const arrows = { ArrowLeft: [-sign, 0], ArrowRight: [sign, 0], ArrowUp: [0, 1], ArrowDown: [0, -1] };
    const way = arrows[event.key];
    if (way) {
      const step = event.shiftKey ? NUDGE_MM.coarse : NUDGE_MM.fine;
      const first = !this.nudged;
      const now = this.nudged ?? { handle: known.handle, moved: /** @type {Point} */ ([0, 0]), timer: 0 };
      window.clearTimeout(now.timer);
      const moved = /** @type {Point} */ ([now.moved[0] + step * way[0], now.moved[1] + step * way[1]]);
      this.nudged = { handle: now.handle, moved, timer: window.setTimeout(() => this.#keep(), KEEP_AFTER) };
      this.#pulled(now.handle, moved, first ? "start" : "move");
    } else if (event.key === "Enter" && this.nudged) this.#keep();
    else if (event.key === "Enter" && known.handle.pressed) known.handle.pressed();
    else if (event.key === "Delete" && known.handle.removed) known.handle.removed();
    else if (event.key === "Escape" && this.nudged) {
      window.clearTimeout(this.nudged.timer);
      const { handle, moved } = this.nudged;
      this.nudged = null;
      this.#pulled(handle, moved, "cancel");
    } else return;
    event.preventDefault();
    event.stopPropagation();
  }

  #keep() {
    if (!this.nudged) return;
    const { handle, moved, timer } = this.nudged;
    window.clearTimeout(timer);
    this.nudged = null;
    this.#pulled(handle, moved, "end");
  }

  /** @param {Handle} handle @param {Point} moved @param {"start"|"move"|"end"|"cancel"} phase */
  #pulled(handle, moved, phase) {
    const going = phase === "start" || phase === "move";
    this.carried = going && handle.pulled ? { key: handle.key, moved: allowed(handle, moved) } : null;
    this.pane.pulled(handle, moved, phase);
  }
}
