/**
 * Scale of a film from something of known size on it: a ball, a ruler, a nail. One or two clicks, then the film shows
 * its edge; a ball the film does not show well is marked by three points of its edge.
 * @module
 */
import { call, failureOf } from "../api.js";
import { apply } from "../models/affine.js";
import { withBall, withScale } from "../models/case_edit.js";
import { circleThrough } from "../models/circle.js";
import { fixed } from "../models/wording.js";

/** @typedef {import("../models/affine.js").Point} Point */
/** @typedef {import("./film_pane.js").FilmPane} Pane */
/** @typedef {import("../pages/table.js").LightTable} Table */
/** @typedef {"calibration ball"|"ruler"|"nail"|"edge of the ball"} What */

/** What each kind wants: clicks, and how they are asked for. @type {Record<What, {clicks: number, asked: string}>} */
export const KINDS = {
  "calibration ball": { clicks: 1, asked: "calibration ball, anywhere inside it" },
  ruler: { clicks: 2, asked: "ruler, on its first and its last tick" },
  nail: { clicks: 2, asked: "nail, two points inside one straight piece" },
  "edge of the ball": { clicks: 3, asked: "edge of the calibration ball, three points far apart" },
};

export class Scaling {
  /** @param {Table} table */
  constructor(table) {
    this.table = table;
    /** @type {{film: string, what: What, size_mm: number, points: Point[], reply: any}|null} */
    this.now = null;
    this.note = "";
  }

  get active() {
    return Boolean(this.now);
  }

  /** @param {string} projection */
  wordsIn(projection) {
    const { now } = this;
    if (!now || this.table.shown(/** @type {any} */ (projection))?.name !== now.film) return null;
    const { clicks, asked } = KINDS[now.what];
    return clicks > 1 ? `${asked}: point ${Math.min(clicks, now.points.length + 1)} of ${clicks}` : asked;
  }

  /** @param {string} film @param {What} what @param {number} size_mm diameter, or distance of neighbouring ticks */
  begin(film, what, size_mm) {
    this.table.stopAsking();
    this.now = { film, what, size_mm, points: [], reply: null };
    this.note = "";
    this.table.standing();
    this.table.paint();
    for (const p of this.table.panes) p.loupe_mm = null;
    this.table.panes.find((p) => this.table.shown(p.projection)?.name === film)?.root.focus({ preventScroll: true });
  }

  stop() {
    this.now = null;
  }

  /** @param {Pane} pane @param {Point} at_mm @param {"click"|"enter"} how */
  placed(pane, at_mm, how) {
    const { now } = this;
    if (!now || this.table.shown(pane.projection)?.name !== now.film) return;
    if (now.reply && how === "enter") return this.take();
    now.points = [...(now.reply ? [] : now.points), pane.pxOf(at_mm)];
    now.reply = null;
    if (now.points.length < KINDS[now.what].clicks) return this.table.paint();
    if (now.what === "edge of the ball") return this.#edge(now);
    void this.#ask(now);
  }

  /** @param {NonNullable<Scaling["now"]>} now */
  #edge(now) {
    const circle = circleThrough(now.points[0], now.points[1], now.points[2]);
    this.note = circle ? "The ball is marked." : "The three points lie on a line; mark three points around the edge.";
    this.now = circle ? null : { ...now, points: [] };
    if (circle) this.table.work.edit(withBall(this.table.work.draft, now.film, circle, now.size_mm), "calibration ball");
    this.table.says = this.note;
    this.table.paint();
  }

  /** @param {NonNullable<Scaling["now"]>} now */
  async #ask(now) {
    const film = this.table.document.films.find((/** @type {any} */ f) => f.name === now.film);
    this.note = "looking at the film…";
    this.table.paint();
    let reply;
    try {
      const size = now.what === "ruler" ? { interval_mm: now.size_mm } : { diameter_mm: now.size_mm };
      reply = await call("POST", `/api/films/${film.sha256}/snap`, { film, what: now.what, clicks_px: now.points, ...size });
    } catch (error) {
      reply = { refused: failureOf(error) };
    }
    if (this.now !== now) return;
    if (reply.refused) {
      this.note = `${reply.refused.found} ${reply.refused.next}`;
      now.points = [];
    } else {
      now.reply = reply;
      this.note = `${reply.poor ? "Poorly seen: s" : "S"}upport ${fixed(reply.support, 2)}. Enter takes it; click again to try from elsewhere.`;
    }
    this.table.says = this.note;
    this.table.paint();
  }

  take() {
    const { now } = this;
    if (!now?.reply?.scale) return;
    this.now = null;
    this.note = `Scale taken from the ${now.what}.`;
    this.table.says = this.note;
    this.table.work.edit(withScale(this.table.work.draft, now.film, now.reply.scale), now.what);
    this.table.paint();
  }

  /** @param {"frontal"|"sagittal"} projection */
  shapesIn(projection) {
    const { now } = this;
    const shown = this.table.shown(projection);
    if (!now || !shown || shown.name !== now.film) return [];
    const mm = (/** @type {Point} */ p) => apply(shown.mm_from_px, p);
    /** @type {any[]} */
    const shapes = now.points.map((p) => ({ kind: "proposed from", points_mm: [mm(p)] }));
    const found = now.reply?.shape;
    if (found) shapes.push({ kind: now.reply.poor ? "proposed, poor" : "proposed", points_mm: found.points_px.map(mm), ...(found.radius_px ? { radius_mm: found.radius_px * Math.hypot(shown.mm_from_px[0][0], shown.mm_from_px[1][0]) } : {}) });
    return shapes;
  }

  handlesIn() {
    return [];
  }

  saysIn() {
    return null;
  }
}
