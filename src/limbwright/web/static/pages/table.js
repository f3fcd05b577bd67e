/**
 * The light table: films, time strip, ledger, candidates of one case.
 * @module
 */
import { Latest, call, failureOf } from "../api.js";
import { palette } from "../drawing/palette.js";
import { TileStore } from "../drawing/tile_store.js";
import { withGoal } from "../models/case_edit.js";
import { driftShapes } from "../models/drift.js";
import { AS_IT_STANDS, dayMoment, momentOf, stepped } from "../models/time_axis.js";
import { fitted } from "../models/view.js";
import { after, apply, inverse, magnification } from "../models/affine.js";
import { askConflict } from "../parts/conflict_dialog.js";
import { FilmPane } from "../parts/film_pane.js";
import { nextTask, tasksOf } from "../parts/landmark_guide.js";
import { acrossSign, boxOf, draggedCuts, filmPieces, filmShown, landmarkHandles, otherLegShapes, planHandlesOf } from "../parts/table_scene.js";
import { listenOnTable } from "../parts/keys.js";
import { openTab, renderTable } from "../parts/table_panels.js";
import { MoreFilms } from "../parts/more_films.js";
import { Placing } from "../parts/placing.js";
import { Pulling } from "../parts/pulling.js";
import { Scaling } from "../parts/scaling.js";
import { WallTracing } from "../parts/wall_tracing.js";
import { WorkingCase } from "../parts/working_case.js";

/** @typedef {import("../parts/film_pane.js").FilmPane} Pane */
/** @typedef {"frontal"|"sagittal"} Projection */
/** Quiet time before drift and other ways are looked for. [ms] */
const LOOK_AHEAD_AFTER = 900;
const PROJECTIONS = /** @type {Projection[]} */ (["frontal", "sagittal"]);

export class LightTable {
  /** @param {any} data page data @param {HTMLElement} root */
  constructor(data, root) {
    this.data = data;
    /** Readers look; nothing can be pulled, placed or chosen. */
    this.may = data.user.role !== "read";
    this.root = root;
    /** @type {Record<string, any>} film headers by sha256 */
    this.headers = {};
    this.work = new WorkingCase(data.document);
    this.instant = AS_IT_STANDS;
    this.view = { zoom: 1, middle_proximal_mm: 0 };
    /** @type {Record<Projection, number>} */
    this.middles = { frontal: 0, sagittal: 0 };
    this.fitted = "";
    /** @type {Partial<Record<Projection, import("../models/affine.js").Affine>>} */
    this.frames = {};
    /** @type {"ledger"|"landmarks"|"case"|"plan"|"accept"|"look"} */
    this.tab = "ledger";
    /** @type {any} */
    this.look = null;
    this.hidden = new Set(["landmark", "expected drift"]);
    /** @type {Pane[]} */
    this.panes = [];
    this.placing = new Placing(this);
    this.scaling = new Scaling(this);
    this.tracing = new WallTracing(this);
    this.pulling = new Pulling(this);
    this.more_films = new MoreFilms(this);
    /** @type {Map<string, any>} drawings by moment, of the present base */
    this.drawn = new Map();
    this.drawn_base = "";
    this.show_candidates = true;
    this.reasons = new Map();
    this.accepting = false;
    /** @type {any} */
    this.accept_trouble = null;
    /** @type {Map<string, import("../api.js").Failure>} */
    this.film_troubles = new Map();
    this.says = "";
    this.finding = false;
    this.frame = 0;
    this.tiles = new TileStore(() => this.paintSoon());
    this.drawing = new Latest(
      (/** @type {{key: string, body: any}} */ { body }) => call("POST", "/api/work/draw", body),
      (reply, { key, body }) => {
        if (body.base !== this.work.base) return;
        this.drawn.set(key, reply.drawings[0]);
        this.paintSoon();
      },
      () => {},
    );
    renderTable(this);
    this.panes = PROJECTIONS.map((projection) => {
      const place = /** @type {HTMLElement} */ (root.querySelector(`[data-pane="${projection}"]`));
      return new FilmPane(place, projection, this.tiles, {
        viewed: (pane, view) => this.#viewed(pane, view),
        pulled: (pane, handle, moved, phase) => this.pulling.pulled(pane, handle, moved, phase),
        placed: (pane, at, how) => this.asking?.placed(pane, at, how),
      });
    });
    new ResizeObserver(() => this.paint()).observe(root);
    this.work.addEventListener("change", () => this.#changed());
    window.addEventListener("beforeunload", (e) => this.work.dirty && this.work.saving !== "saved" && e.preventDefault());
    window.addEventListener("pagehide", () => void call("DELETE", `/api/work/${this.work.session}`, undefined, { keepalive: true }).catch(() => {}));
    document.documentElement.addEventListener("room", () => this.paint());
    this.work.recompute();
    void this.openFilms();
    this.paint();
  }

  /** Headers only: sizes, windows, scale. The picture comes in tiles. */
  async openFilms() {
    await Promise.all(
      this.document.films.map(async (/** @type {any} */ film) => {
        if (!film.sha256 || this.headers[film.sha256]) return;
        try {
          this.headers[film.sha256] = await call("GET", `/api/films/${film.sha256}`);
        } catch (error) {
          this.film_troubles.set(film.name, failureOf(error));
        }
        this.paintSoon();
      }),
    );
  }

  #changed() {
    if (this.drawn_base !== this.work.base) {
      this.drawn.clear();
      this.drawn_base = this.work.base;
    }
    if (!this.work.computing) this.pulling.settled();
    if (this.work.saving === "conflict" && this.work.trouble) void this.#conflict(this.work.trouble);
    this.#lookAhead();
    this.paintSoon();
  }

  #lookAhead() {
    const wanted = this.work.lookAheadWanted(this.show_candidates);
    // Not while the films are read, and not at once: whoever goes on shall not wait for a search that is out of date when it ends.
    if (wanted && this.work.days && !this.work.computing && !this.finding && !this.asking) {
      this.finding = true;
      const { base } = this.work;
      setTimeout(() => {
        const found = this.work.base === base && !this.work.computing && !this.asking ? this.work.lookAhead(this.show_candidates) : Promise.resolve();
        void found.finally(() => {
          this.finding = false;
          this.#lookAhead();
        });
      }, LOOK_AHEAD_AFTER);
    }
  }

  /** @param {import("../api.js").Failure} failure */
  async #conflict(failure) {
    const dialog = /** @type {HTMLDialogElement} */ (document.querySelector("dialog#conflict"));
    if (dialog.open) return;
    try {
      const theirs = await call("GET", `/api/cases/${encodeURIComponent(this.work.id)}`);
      askConflict(dialog, failure, theirs, this.work.draft, this.work.saved, (draft, words) => void this.work.settle(draft, theirs.version, words));
    } catch (error) {
      this.says = failureOf(error).found;
    }
  }

  paintSoon() {
    if (this.frame) return;
    this.frame = requestAnimationFrame(() => {
      this.frame = 0;
      this.paint();
    });
  }

  paint() {
    renderTable(this);
    this.paintFilms();
    this.#lookAhead();
  }

  get document() {
    return this.work.draft.case;
  }

  /** @param {Projection} projection */
  shown(projection) {
    return filmShown(this.document, this.work.answer, this.headers, projection);
  }

  get filmsShown() {
    return PROJECTIONS.flatMap((projection) => {
      const shown = this.shown(projection);
      return shown ? [{ projection, shown }] : [];
    });
  }

  /** What the films are asked for now, if anything: landmarks, a scale, walls. */
  get asking() {
    return [this.placing, this.scaling, this.tracing].find((hand) => hand.active) ?? null;
  }

  stopAsking() {
    for (const hand of [this.placing, this.scaling, this.tracing]) hand.stop();
  }

  /** Marks are made on the leg as it stands. */
  standing() {
    this.instant = AS_IT_STANDS;
  }

  /** @param {Projection} projection @returns {string|null} */
  wordsToPlace(projection) {
    return this.asking?.wordsIn(projection) ?? null;
  }

  get tasks() {
    const films = this.filmsShown;
    const both = (/** @type {any} */ f) => (f.projection === "frontal" ? [this.document.side, this.document.side === "left" ? "right" : "left"] : [this.document.side]);
    return tasksOf(this.document, this.work.answer, films.map((f) => ({ film: f.shown.name, projection: f.projection, sides: both(f) })), this.placing.kinds);
  }

  /** The drawing of this instant in one plane. @param {Projection} projection */
  drawingNow(projection) {
    const { answer, days } = this.work;
    const { reply } = this.pulling;
    if (reply?.lines?.[this.document.side]?.[projection]) return reply.lines[this.document.side][projection];
    if (reply?.drawings?.[projection]) return reply.drawings[projection];
    const standing = answer?.drawings?.["as it stands"]?.[projection] ?? answer?.lines?.[this.document.side]?.[projection];
    if (this.instant.correction === 0 || !days) return standing ?? null;
    if (this.instant.correction < 1) return null;
    const moment = momentOf(this.instant, days.axis);
    if (moment.stage) return answer?.drawings?.[/** @type {any} */ (moment.stage)]?.[projection] ?? null;
    return this.drawn.get(String(this.instant.day))?.[projection] ?? this.#askDrawing(moment, projection);
  }

  /** @param {any} moment @param {Projection} projection */
  #askDrawing(moment, projection) {
    const key = String(moment.day);
    this.drawing.ask({ key, body: { session: this.work.session, base: this.work.base, moments: [moment] } });
    const nearest = [...this.drawn.keys()].sort((a, b) => Math.abs(Number(a) - moment.day) - Math.abs(Number(b) - moment.day))[0];
    return nearest && Math.abs(Number(nearest) - moment.day) <= 3 ? this.drawn.get(nearest)[projection] : null;
  }

  paintFilms() {
    const colours = palette();
    this.#fitOnce();
    for (const pane of this.panes) {
      const { projection } = pane;
      const shown = this.shown(projection);
      if (!shown) continue;
      this.#keepPlace(pane, shown);
      const drawing = this.drawingNow(projection);
      const { reply } = this.pulling;
      const bones = this.bonesNow;
      const dragged = reply?.motions?.[projection]
        ? { motions: reply.motions[projection], cuts: draggedCuts(this.work.days, projection, reply.change, this.work.bones) }
        : null;
      const marks = this.instant.correction === 0 && (this.tab === "landmarks" || !this.hidden.has("landmark")) ? landmarkHandles(shown, this.document) : [];
      const hands = [this.placing, this.scaling, this.tracing];
      // While walls are traced only they can be pulled; while something is placed, nothing of the plan.
      const standing = this.tracing.active || !this.may ? [] : [...(this.asking ? [] : planHandlesOf(drawing, bones, projection)), ...this.#underway(marks)];
      const handles = [...standing, ...hands.flatMap((hand) => hand.handlesIn(projection))];
      pane.show(
        {
          film: shown.header,
          mm_from_px: shown.mm_from_px,
          across_sign: acrossSign(shown),
          pieces: filmPieces(shown, this.work.days, this.instant, projection, dragged),
          shapes: [...(drawing?.shapes ?? []), ...(this.hidden.has("expected drift") ? [] : driftShapes(this.work, this.instant, shown, projection))],
          ghosts: hands.flatMap((hand) => hand.shapesIn(projection)),
          other_shapes: this.instant.correction === 0 ? otherLegShapes(shown, reply?.lines ? { ...this.work.answer.lines, ...reply.lines } : this.work.answer?.lines, projection) : [],
          bones,
          handles,
          look: this.look,
          hidden: this.hidden,
          placing: this.wordsToPlace(projection),
          pulled: this.pulling.wordsFor(pane) ?? this.placing.saysIn(projection),
        },
        { zoom: this.view.zoom, middle_proximal_mm: this.view.middle_proximal_mm, middle_across_mm: this.middles[projection] },
        colours,
      );
    }
  }

  /** A landmark being dragged is where the pointer has it. @param {any[]} marks */
  #underway(marks) {
    const held = this.pulling.now;
    const change = held?.change;
    if (change?.kind !== "landmark") return marks;
    const shown = held && this.shown(held.pane.projection);
    return marks.map((m) => (shown && m.key === held?.handle.key ? { ...m, at_mm: apply(shown.mm_from_px, [change.x_px, change.y_px]) } : m));
  }

  /** Bones of the plan, the one being dragged as the server has it. */
  get bonesNow() {
    const bone = this.pulling.reply?.bone;
    return bone ? this.work.bones.map((/** @type {any} */ b) => (b.bone === bone.bone ? { ...b, ...bone } : b)) : this.work.bones;
  }

  /** The view is chosen when the page opens and again when the first answer is there; then it is the surgeon's. */
  #fitOnce() {
    const now = this.work.answer ? "answered" : "opened";
    if (this.fitted === "answered" || this.fitted === now || !this.panes.length || this.panes[0].root.clientHeight < 40) return;
    this.fitted = now;
    this.fit(this.work.bones[0]?.bone ?? null);
  }

  /** The first landmarks of a leg give the film another frame: what is looked at stays where it is on the screen.
   * @param {Pane} pane @param {import("../parts/table_scene.js").Shown} shown */
  #keepPlace(pane, shown) {
    const { projection } = pane;
    const before = this.frames[projection];
    this.frames[projection] = shown.mm_from_px;
    if (!before || JSON.stringify(before) === JSON.stringify(shown.mm_from_px)) return;
    const onto = after(shown.mm_from_px, inverse(before));
    const middle = apply(onto, [this.middles[projection], this.view.middle_proximal_mm]);
    this.middles[projection] = middle[0];
    pane.cursor_mm = apply(onto, pane.cursor_mm);
    if (projection === "frontal" || !this.shown("frontal"))
      this.view = { zoom: this.view.zoom / magnification(onto), middle_proximal_mm: middle[1] };
  }

  /** @param {string|null} bone null = the whole leg */
  fit(bone) {
    for (const pane of this.panes) {
      const shown = this.shown(pane.projection);
      if (!shown) continue;
      const shapes = this.drawingNow(pane.projection)?.shapes ?? [];
      const box = boxOf(shown, this.document, shapes, bone);
      const { wide, high } = pane.screen;
      const view = fitted(box, wide, high);
      this.middles[pane.projection] = view.middle_across_mm;
      if (pane.projection === "frontal" || !this.shown("frontal")) this.view = { zoom: fitted({ low: [0, box.low[1]], high: [1, box.high[1]] }, wide, high).zoom, middle_proximal_mm: view.middle_proximal_mm };
    }
    this.paintSoon();
  }

  /** Linked: one scale and one height for both. @param {Pane} pane @param {any} view */
  #viewed(pane, view) {
    const across = view.middle_across_mm;
    this.view = { zoom: view.zoom, middle_proximal_mm: view.middle_proximal_mm };
    this.middles[pane.projection] = across;
    this.paintFilms();
  }

  /** @param {import("../models/time_axis.js").Instant} instant */
  seek(instant) {
    this.instant = instant;
    this.paintSoon();
  }

  /** @param {number} days */
  step(days) {
    if (this.work.days) this.seek(stepped(this.work.days.axis, this.instant, days));
  }

  /** Plans are dragged at one of the three stages. */
  get stage() {
    const axis = this.work.days?.axis;
    if (this.instant.correction === 0 || !axis) return "as it stands";
    return this.instant.day <= axis.first_day ? "corrected" : "at full length";
  }

  /** @param {import("../parts/landmark_guide.js").Task|null} task a landmark to place, walls to trace, or nothing */
  place(task) {
    if (task) this.tab = "landmarks";
    if (task?.bone) return this.tracing.begin({ film: task.film, side: task.side, bone: task.bone, projection: task.projection }, task);
    this.scaling.stop();
    this.tracing.stop();
    if (task) this.standing();
    this.placing.begin(task);
  }

  /** Take hold of a landmark that is placed. @param {import("../parts/landmark_guide.js").Task} task */
  goTo(task) {
    openTab(this, "landmarks");
    this.standing();
    this.paint();
    this.panes.find((p) => p.projection === task.projection)?.handles.focus(`landmark/${task.film}/${task.side}/${task.landmark}`);
  }

  placeNext() {
    if (!this.may) return;
    const next = nextTask(this.tasks, null, false);
    if (!next) this.says = "Every usual landmark is placed.";
    this.place(next);
  }

  /** @param {boolean} show */
  showCandidates(show) {
    this.show_candidates = show;
    this.#changed();
    this.paint();
  }

  /** @param {any} goal null = drop what was laid over the proposal @param {string} words @param {any[]} [alterations] */
  goal(goal, words, alterations) {
    this.work.edit(goal === null ? { ...this.work.draft, alterations: [] } : withGoal(this.work.draft, goal, alterations), words);
  }

  get momentNow() {
    return this.work.days && this.instant.correction === 1 ? dayMoment(this.work.days.moments, this.instant.day) : null;
  }
}

/** @param {any} data @param {HTMLElement} root */
export function start(data, root) {
  const table = new LightTable(data, root);
  listenOnTable(table, (key) => openTab(table, key));
}
