/**
 * Placing landmarks one after another. A click asks the film: what it shows there is proposed as a ghost, and the reader
 * takes it, moves it, or keeps the click. Where a mark came from stays with it: clicked, snapped, edited.
 * @module
 */
import { call, failureOf } from "../api.js";
import { after, apply } from "../models/affine.js";
import { withMarks } from "../models/case_edit.js";
import { fixed, plain } from "../models/wording.js";
import { nextTask, taskKey } from "./landmark_guide.js";

/** @typedef {import("../models/affine.js").Point} Point */
/** @typedef {import("./film_pane.js").FilmPane} Pane */
/** @typedef {import("./landmark_guide.js").Task} Task */
/** @typedef {import("../pages/table.js").LightTable} Table */
/** @typedef {{film: string, side: string, landmark: string, projection: "frontal"|"sagittal", words: string}} Named */
/**
 * @typedef {object} Proposal
 * @property {Named} of @property {Point} click_px
 * @property {"click"|"drag"|"guide"} origin a click, a mark that was moved by hand (and is kept), or the guide ahead of a click
 * @property {boolean} queued taken before it was there
 * @property {any} reply null while the film is looked at
 * @property {Record<string, any>} marks what is put into the film when it is taken
 */

/** A click so near to a proposal, or to the click it answers, takes it. [screen px] */
const NEAR = 12;
/** A second click in the same place so soon belongs to the first. [ms] */
const SAME_CLICK = 500;
/** A proposal nearer to the hand's own mark is not worth asking about. [px] */
const SAME_PLACE_PX = 0.6;

export class Placing {
  /** @param {Table} table */
  constructor(table) {
    this.table = table;
    /** @type {Task|null} */
    this.task = null;
    this.needed_only = false;
    /** @type {Proposal|null} */
    this.proposal = null;
    /** What was done with the last click. */
    this.note = "";
    /** @type {{at: number, place: Point}|null} */
    this.last = null;
    /** How each landmark can be found on the film. @type {Record<string, {how: string, projections: string[], with: string[]}>} */
    this.kinds = {};
    this.snapping = localStorage.getItem("limbwright-snapping") !== "no";
    void call("GET", "/api/films/snap-kinds").then((said) => {
      this.kinds = said.landmarks;
      table.paintSoon();
    }, () => {});
  }

  get active() {
    return Boolean(this.task);
  }

  /** @param {boolean} on */
  setSnapping(on) {
    this.snapping = on;
    localStorage.setItem("limbwright-snapping", on ? "yes" : "no");
    this.table.paint();
  }

  /** @param {string} projection */
  wordsIn(projection) {
    return this.task?.projection === projection ? this.task.words : null;
  }

  /** @param {Task|null} task */
  begin(task) {
    this.keepClick();
    this.task = task;
    this.table.paint();
    const pane = task && this.table.panes.find((p) => p.projection === task.projection);
    for (const p of this.table.panes) p.loupe_mm = null;
    pane?.root.focus({ preventScroll: true });
    // The middle of a line whose ends are marked needs no click.
    const how = task && this.kinds[task.landmark];
    const film = task && this.#film(task.film);
    if (!task || !how || how.how !== "middle of a line" || task.placed || !this.#canAsk(task)) return;
    const ends = how.with.map((end) => film[task.side][end]);
    if (ends.length) void this.#ask(task, [ends.reduce((s, m) => s + m.x_px, 0) / ends.length, ends.reduce((s, m) => s + m.y_px, 0) / ends.length], "guide");
  }

  /** Nothing is asked for any more; what was only proposed goes. */
  stop() {
    this.proposal = null;
    this.task = null;
  }

  /** On to the next without this one. */
  skip() {
    this.proposal = null;
    if (this.task) this.goOnFrom(this.task);
  }

  /** The guide's next task after this one. @param {Task} task */
  goOnFrom(task) {
    this.table.place(nextTask(this.table.tasks, task, this.needed_only));
  }

  /** @param {string} name */
  #film(name) {
    return this.table.document.films.find((/** @type {any} */ f) => f.name === name);
  }

  /** @param {Named} task */
  #canAsk(task) {
    const how = this.kinds[task.landmark];
    const film = this.#film(task.film);
    if (!this.snapping || !how?.projections.includes(task.projection) || !film?.sha256) return false;
    return how.with.every((partner) => film[task.side]?.[partner]);
  }

  /** @param {Pane} pane @param {Point} at_mm @param {"click"|"enter"} how Enter without having moved the cross takes what is proposed */
  placed(pane, at_mm, how) {
    const task = this.task;
    if (!task || task.projection !== pane.projection) return;
    const screen = apply(pane.screen_from_mm, at_mm);
    const proposal = this.proposal;
    if (proposal && (how === "enter" || this.#near(pane, screen, proposal))) {
      if (proposal.reply) this.take();
      else proposal.queued = true;
      return;
    }
    const now = performance.now();
    const again = this.last && now - this.last.at < SAME_CLICK && Math.hypot(screen[0] - this.last.place[0], screen[1] - this.last.place[1]) < NEAR;
    if (again && !proposal) return;
    this.last = { at: now, place: screen };
    const px = pane.pxOf(at_mm);
    if (this.#canAsk(task)) void this.#ask(task, px, "click");
    else this.#keep(task, px, this.#whyNot(task));
  }

  /** @param {Pane} pane @param {Point} screen @param {Proposal} proposal */
  #near(pane, screen, proposal) {
    const map = after(pane.screen_from_mm, /** @type {any} */ (pane.scene).mm_from_px);
    const mark = proposal.marks[proposal.of.landmark];
    const places = [proposal.click_px, ...(mark ? [/** @type {Point} */ ([mark.x_px, mark.y_px])] : [])].map((p) => apply(map, p));
    return places.some((p) => Math.hypot(p[0] - screen[0], p[1] - screen[1]) < NEAR);
  }

  /** @param {Task} task */
  #whyNot(task) {
    const how = this.kinds[task.landmark];
    if (!this.snapping || !how?.projections.includes(task.projection)) return "";
    return `It can be found on the film once the ${how.with.map(plain).join(" and ")} ${how.with.length > 1 ? "are" : "is"} marked too.`;
  }

  /** Keep the hand's own place and go on. @param {Task} task @param {Point} px @param {string} why */
  #keep(task, px, why) {
    this.proposal = null;
    const next = nextTask(this.table.tasks, task, this.needed_only);
    this.table.work.change({ kind: "landmark", film: task.film, side: task.side, landmark: task.landmark, x_px: px[0], y_px: px[1] }, task.words);
    this.note = `${task.words}: where you clicked. ${why}`;
    this.table.says = this.note;
    this.table.place(next);
  }

  /** @param {Named} of @param {Point} click_px @param {Proposal["origin"]} origin */
  async #ask(of, click_px, origin) {
    const film = this.#film(of.film);
    /** @type {Proposal} */
    const proposal = { of, click_px, origin, queued: false, reply: null, marks: {} };
    this.proposal = proposal;
    this.table.paint();
    let reply;
    try {
      reply = await call("POST", `/api/films/${film.sha256}/snap`, { film, what: "landmark", side: of.side, landmark: of.landmark, clicks_px: [click_px] });
    } catch (error) {
      reply = { refused: failureOf(error) };
    }
    if (this.proposal !== proposal) return;
    if (reply.refused) {
      this.proposal = null;
      const why = `${reply.refused.found} ${reply.refused.next}`;
      if (origin === "click" && this.task && taskKey(this.task) === taskKey(/** @type {Task} */ (of))) return this.#keep(this.task, click_px, why);
      return this.table.paint();
    }
    if (origin === "drag" && reply.moved_px < SAME_PLACE_PX) {
      this.proposal = null;
      return this.table.paint();
    }
    proposal.reply = reply;
    proposal.marks = reply.marks;
    this.#lookAt(of, reply.marks[of.landmark]);
    this.table.says = this.words ?? "";
    // Taken ahead only when the film shows it well: a poor one is looked at first.
    if (proposal.queued && !reply.poor) this.take();
    else this.table.paint();
  }

  /** The loupe shows where the film has it. @param {Named} of @param {any} mark */
  #lookAt(of, mark) {
    const shown = this.table.shown(of.projection);
    const pane = this.table.panes.find((p) => p.projection === of.projection);
    if (pane && shown && mark) pane.loupe_mm = apply(shown.mm_from_px, [mark.x_px, mark.y_px]);
  }

  /** What the proposal says of itself. */
  get words() {
    const { proposal } = this;
    if (!proposal) return null;
    if (!proposal.reply) return "looking at the film…";
    const { support, poor, moved_px, sd_mm, how } = proposal.reply;
    const away = this.table.shown(proposal.of.projection)?.scaled && sd_mm !== null ? `, ±${fixed(Math.max(0.1, 1.96 * sd_mm), 1)} mm` : "";
    const from = proposal.origin === "guide" ? "" : `, ${fixed(moved_px, 1)} px from your ${proposal.origin === "drag" ? "mark" : "click"}`;
    return `${poor ? "poorly seen: " : ""}support ${fixed(support, 2)}${away}${from}`;
  }

  /** Put what the film shows into the case. */
  take() {
    const { proposal } = this;
    if (!proposal?.reply) return;
    const { of, marks } = proposal;
    this.proposal = null;
    for (const pane of this.table.panes) pane.loupe_mm = null;
    const edited = Object.values(marks).some((m) => m.provenance === "edited");
    this.note = `${of.words}: ${edited ? "as you moved it" : `as the film shows it, support ${fixed(proposal.reply.support, 2)}`}.`;
    this.table.says = this.note;
    this.last = { at: performance.now(), place: this.last?.place ?? [0, 0] };
    const dragged = proposal.origin === "drag";
    const next = dragged ? null : nextTask(this.table.tasks, this.task, this.needed_only);
    this.table.work.edit(withMarks(this.table.work.draft, of.film, of.side, marks), of.words);
    if (dragged) this.table.paint();
    else this.table.place(next);
  }

  /** Keep the click that was asked about; a mark that was moved by hand stays where the hand left it. */
  keepClick() {
    const { proposal, task } = this;
    this.proposal = null;
    if (proposal?.origin !== "click" || !task || taskKey(task) !== taskKey(/** @type {Task} */ (proposal.of))) return;
    const [x_px, y_px] = proposal.click_px;
    this.table.work.change({ kind: "landmark", film: task.film, side: task.side, landmark: task.landmark, x_px, y_px }, task.words);
  }

  /** Not what the film shows but the hand's own place. */
  refuse() {
    const { proposal, task } = this;
    if (!proposal) return;
    if (proposal.origin === "click" && task) this.#keep(task, proposal.click_px, "");
    else {
      this.proposal = null;
      this.table.paint();
    }
  }

  /** A landmark was moved by hand: what does the film show there? @param {any} change */
  offer(change) {
    const projection = this.table.document.films.find((/** @type {any} */ f) => f.name === change.film)?.projection;
    const of = { film: change.film, side: change.side, landmark: change.landmark, projection, words: plain(change.landmark) };
    if (this.#canAsk(of)) void this.#ask(of, [change.x_px, change.y_px], "drag");
  }

  /** Ghost of the proposal, limb plane mm. @param {"frontal"|"sagittal"} projection */
  shapesIn(projection) {
    const { proposal } = this;
    const shown = this.table.shown(projection);
    if (!proposal || proposal.of.projection !== projection || shown?.name !== proposal.of.film) return [];
    const mm = (/** @type {Point} */ p) => apply(shown.mm_from_px, p);
    /** @type {any[]} */
    const shapes = [{ kind: "proposed from", points_mm: [mm(proposal.click_px)] }];
    const found = proposal.reply?.shape;
    if (found) shapes.push({ kind: proposal.reply.poor ? "proposed, poor" : "proposed", points_mm: found.points_px.map(mm), ...(found.radius_px ? { radius_mm: found.radius_px * Math.hypot(shown.mm_from_px[0][0], shown.mm_from_px[1][0]) } : {}) });
    return shapes;
  }

  /** What of the proposal can be moved. @param {"frontal"|"sagittal"} projection @returns {import("../models/handles.js").Handle[]} */
  handlesIn(projection) {
    const { proposal } = this;
    const shown = this.table.shown(projection);
    if (!proposal || proposal.of.projection !== projection || shown?.name !== proposal.of.film) return [];
    const marks = proposal.reply ? proposal.marks : { [proposal.of.landmark]: { x_px: proposal.click_px[0], y_px: proposal.click_px[1] } };
    return Object.entries(marks).map(([landmark, mark]) => {
      const at_mm = apply(shown.mm_from_px, [mark.x_px, mark.y_px]);
      return {
        key: `proposal/${landmark}`,
        kind: "proposal",
        words: `proposed ${plain(landmark)}`,
        at_mm,
        along_mm: /** @type {Point} */ ([0, 0]),
        pressed: () => this.take(),
        pulled: (moved, phase) => {
          if (phase !== "end" || !proposal.reply) return;
          const pane = this.table.panes.find((p) => p.projection === projection);
          const px = pane?.pxOf([at_mm[0] + moved[0], at_mm[1] + moved[1]]) ?? [mark.x_px, mark.y_px];
          proposal.marks = { ...proposal.marks, [landmark]: { x_px: Math.round(px[0] * 100) / 100, y_px: Math.round(px[1] * 100) / 100, provenance: "edited" } };
          this.table.paint();
        },
      };
    });
  }

  /** @param {"frontal"|"sagittal"} projection */
  saysIn(projection) {
    const { proposal } = this;
    if (!proposal || proposal.of.projection !== projection) return null;
    const ready = proposal.reply ? ". Enter or a click takes it" : "";
    return { key: `proposal/${proposal.of.landmark}`, words: `${this.words}${ready}`, stopped: Boolean(proposal.reply?.poor) };
  }
}
