/**
 * Walls of a femur or tibia: two or three points along the shaft, and the film's four edges are followed. Pins laid by
 * the reader are kept to; what the film does not show stays open, and is said.
 * @module
 */
import { Latest, call, failureOf } from "../api.js";
import { apply, inverse, turn } from "../models/affine.js";
import { withFilm } from "../models/case_edit.js";
import { beginning, holds, withClick, withPin } from "../models/trace.js";

/** @typedef {import("../models/affine.js").Point} Point */
/** @typedef {import("./film_pane.js").FilmPane} Pane */
/** @typedef {import("../pages/table.js").LightTable} Table */
/** @typedef {{film: string, side: string, bone: string, projection: "frontal"|"sagittal"}} Shaft */
/** @typedef {{of: Shaft, clicks_px: Point[], pins: import("../models/trace.js").Pin[], reply: any, looking: boolean, task: import("./landmark_guide.js").Task|null}} Tracing */

/** Distance of neighbouring places where a wall can be taken hold of. [screen px] */
const HOLD_EVERY = 46;
/** A pin so near to another on the same wall moves it. [px] */
const SAME_PIN_PX = 6;
/** Most points along the shaft. */
const MOST_CLICKS = 12;

export class WallTracing {
  /** @param {Table} table */
  constructor(table) {
    this.table = table;
    /** @type {Tracing|null} */
    this.now = null;
    this.asking = new Latest(
      (/** @type {{sha256: string, body: any}} */ { sha256, body }) => call("POST", `/api/films/${sha256}/trace`, body),
      (reply) => this.#answered(reply),
      (error) => this.#answered({ refused: failureOf(error) }),
    );
  }

  get active() {
    return Boolean(this.now);
  }

  /** @param {string} projection */
  wordsIn(projection) {
    const { now } = this;
    if (!now || now.of.projection !== projection) return null;
    return now.reply && !now.reply.refused ? `walls of the ${now.of.bone}: pull a wall where it runs wrong` : `walls of the ${now.of.bone}: a point on the shaft, proximal to distal`;
  }

  /** @param {Shaft} of @param {import("./landmark_guide.js").Task|null} [task] the guide's task this answers */
  begin(of, task = null) {
    this.table.stopAsking();
    const film = this.#film(of.film);
    const known = beginning(film, of.side, of.bone);
    this.now = { of, ...known, reply: null, looking: false, task };
    this.table.standing();
    this.table.paint();
    for (const p of this.table.panes) p.loupe_mm = null;
    this.table.panes.find((p) => p.projection === of.projection)?.root.focus({ preventScroll: true });
    this.#ask();
  }

  /** Begin from nothing: the points come from the hand alone. */
  clear() {
    if (!this.now) return;
    this.asking.drop();
    this.now = { ...this.now, clicks_px: [], pins: [], reply: null, looking: false };
    this.table.paint();
  }

  stop() {
    this.asking.drop();
    this.now = null;
  }

  /** @param {string} name */
  #film(name) {
    return this.table.document.films.find((/** @type {any} */ f) => f.name === name);
  }

  /** @param {Pane} pane @param {Point} at_mm @param {"click"|"enter"} how */
  placed(pane, at_mm, how) {
    const { now } = this;
    if (!now || pane.projection !== now.of.projection) return;
    if (how === "enter" && now.reply && !now.reply.refused) return this.take();
    if (now.clicks_px.length >= MOST_CLICKS) {
      this.table.says = `${MOST_CLICKS} points are set along the shaft; pull a wall where it runs wrong, or begin again.`;
      return this.table.paint();
    }
    now.clicks_px = withClick(now.clicks_px, pane.pxOf(at_mm));
    this.#ask();
    this.table.paint();
  }

  #ask() {
    const { now } = this;
    const film = now && this.#film(now.of.film);
    if (!now || now.clicks_px.length < 2 || !film.sha256) return;
    now.looking = true;
    const body = { film, side: now.of.side, bone: now.of.bone, clicks_px: now.clicks_px, pins: now.pins, blur_mm: null };
    this.asking.ask({ sha256: film.sha256, body });
  }

  /** @param {any} reply */
  #answered(reply) {
    const { now } = this;
    if (!now) return;
    now.looking = false;
    now.reply = reply;
    this.table.says = reply.refused ? `${reply.refused.found} ${reply.refused.next}` : `${reply.edges.length} walls followed.`;
    this.table.paint();
  }

  take() {
    const { now } = this;
    if (!now?.reply?.film_walls?.length) return;
    const { of, reply, task } = now;
    this.stop();
    this.table.says = `The walls of the ${of.bone} are kept; nail fit and isthmus follow them.`;
    this.table.work.edit(withFilm(this.table.work.draft, of.film, { walls: reply.film_walls }), `walls of the ${of.bone}, ${of.projection}`);
    if (task) this.table.placing.goOnFrom(task);
    else this.table.paint();
  }

  /** @param {"frontal"|"sagittal"} projection */
  shapesIn(projection) {
    const { now } = this;
    const shown = this.table.shown(projection);
    if (!now || !shown || shown.name !== now.of.film) return [];
    const mm = (/** @type {Point} */ p) => apply(shown.mm_from_px, p);
    /** @type {any[]} */
    const shapes = now.clicks_px.map((p) => ({ kind: "proposed from", points_mm: [mm(p)] }));
    const { reply } = now;
    if (!reply || reply.refused) return shapes;
    for (const edge of reply.edges) {
      shapes.push({ kind: `proposed ${edge.surface} wall`, points_mm: edge.points_px.map(mm) });
      for (const open of edge.not_found) shapes.push({ kind: "not found", points_mm: open.points_px.map(mm) });
    }
    if (reply.isthmus) shapes.push({ kind: "isthmus", points_mm: [mm([reply.isthmus.x_px, reply.isthmus.y_px])], radius_mm: (reply.isthmus.width.mm ?? 0) / 2 });
    return shapes;
  }

  /** Every wall can be taken hold of; where it is let go a pin is laid. @param {"frontal"|"sagittal"} projection @returns {import("../models/handles.js").Handle[]} */
  handlesIn(projection) {
    const { now, table } = this;
    const shown = table.shown(projection);
    if (!now?.reply || now.reply.refused || !shown || shown.name !== now.of.film) return [];
    const px_per_mm = 1 / Math.hypot(shown.mm_from_px[0][0], shown.mm_from_px[1][0]);
    const step_px = (HOLD_EVERY / table.view.zoom) * px_per_mm;
    const mm = (/** @type {Point} */ p) => apply(shown.mm_from_px, p);
    const across = (/** @type {Point} */ d) => {
      const [x, y] = turn(shown.mm_from_px, d);
      const size = Math.hypot(x, y) || 1;
      return /** @type {Point} */ ([x / size, y / size]);
    };
    const pinned = (/** @type {any} */ edge, /** @type {Point} */ at) => (/** @type {Point} */ moved, /** @type {string} */ phase) => {
      if (phase !== "end") return;
      const [x_px, y_px] = apply(inverse(shown.mm_from_px), [mm(at)[0] + moved[0], mm(at)[1] + moved[1]]);
      now.pins = withPin(now.pins.filter((p) => p.x_px !== at[0] || p.y_px !== at[1]), { x_px, y_px, surface: edge.surface, border: edge.border }, SAME_PIN_PX);
      this.#ask();
      table.paint();
    };
    /** @type {import("../models/handles.js").Handle[]} */
    const pins = now.pins.map((pin, i) => ({
      key: `wall-pin/${i}`,
      kind: "wall-pin",
      words: `pin on the ${pin.border} ${pin.surface} wall; Delete takes it away`,
      at_mm: mm([pin.x_px, pin.y_px]),
      along_mm: /** @type {Point} */ ([0, 0]),
      pulled: pinned(pin, [pin.x_px, pin.y_px]),
      removed: () => {
        now.pins = now.pins.filter((p) => p !== pin);
        this.#ask();
        table.paint();
      },
    }));
    const walls = now.reply.edges.flatMap((/** @type {any} */ edge) =>
      holds(edge, step_px).map((hold, i) => ({
        key: `wall/${edge.surface}/${edge.border}/${i}`,
        kind: /** @type {"wall"} */ ("wall"),
        words: `${edge.border} ${edge.surface} wall, place ${i + 1}: pull it where the film shows it`,
        at_mm: mm(hold.at),
        along_mm: across(hold.across),
        pulled: pinned(edge, hold.at),
      })),
    );
    return [...pins, ...walls];
  }

  saysIn() {
    return null;
  }
}
