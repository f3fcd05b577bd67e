/**
 * A follow-up film beside the visit's form: look, zoom, click the points in turn, have it read.
 * @module
 */
import { html, nothing, svg } from "../vendor/lit-html/lit-html.js";
import { tileUrl } from "../drawing/tile_store.js";
import { tilesIn } from "../models/pyramid.js";
import { clicksSent, drawnMarks, missingWords, nextOf, wantedOn } from "../models/film_clicks.js";
import { amountWords, fixed, sentence } from "../models/wording.js";
import { findingList } from "./findings.js";

/** @typedef {import("../models/film_clicks.js").Px} Px */
/** @typedef {{sha256: string, name: string, projection: "frontal"|"sagittal", right_side_at?: string, anterior_at?: string|null, taken_on?: string|null, standing: boolean}} Shown */

/** One film being marked: what is looked at, and what has been clicked. */
export class FilmDesk {
  /** @param {Shown} film @param {string} bone @param {any} header GET /api/films @param {() => void} changed @param {any} [marks] */
  constructor(film, bone, header, changed, marks) {
    this.film = film;
    this.bone = bone;
    this.header = header;
    this.changed = changed;
    /** @type {Record<string, Px>} */
    this.clicks = {};
    /** @type {Set<string>} */
    this.passed = new Set();
    /** @type {any} */
    this.marks = marks ?? null;
    /** @type {any} */
    this.reading = null;
    /** @type {{x: number, y: number, wide: number, high: number}} */
    this.box = { x: -0.5, y: -0.5, wide: header.width_px, high: header.height_px };
    /** @type {Px} */
    this.cross = [header.width_px / 2, header.height_px / 2];
    /** @type {{x: number, y: number, moved: boolean}|null} */
    this.held = null;
    this.bright = 50;
    this.contrast = 50;
  }

  get wanted() {
    return wantedOn(this.bone, this.film.projection);
  }

  get next() {
    return nextOf(this.wanted, this.clicks, this.passed);
  }

  /** Window from both sliders: the middle of each is the film's own. */
  get look() {
    const own = this.header.default_window;
    if (this.bright === 50 && this.contrast === 50) return null;
    const width = own.width * 2 ** ((50 - this.contrast) / 20);
    return { centre: own.centre + ((50 - this.bright) / 50) * own.width * 0.6, width };
  }

  /** @param {Px} at */
  place(at) {
    const next = this.next;
    if (!next) return;
    this.clicks = { ...this.clicks, [next.name]: at };
    this.marks = null;
    this.changed();
  }

  back() {
    const done = this.wanted.filter((w) => this.clicks[w.name] || this.passed.has(w.name));
    const last = done[done.length - 1];
    if (!last) return;
    const { [last.name]: _, ...rest } = this.clicks;
    this.clicks = rest;
    this.passed.delete(last.name);
    this.changed();
  }

  pass() {
    const next = this.next;
    if (!next || next.needed) return;
    this.passed.add(next.name);
    this.changed();
  }

  /** @param {number} factor @param {Px} about */
  zoom(factor, about) {
    const wide = Math.min(this.header.width_px * 1.2, Math.max(20, this.box.wide / factor));
    const share = wide / this.box.wide;
    this.box = {
      x: about[0] - (about[0] - this.box.x) * share,
      y: about[1] - (about[1] - this.box.y) * share,
      wide,
      high: this.box.high * share,
    };
    this.changed();
  }

  whole() {
    this.box = { x: -0.5, y: -0.5, wide: this.header.width_px, high: this.header.height_px };
    this.changed();
  }
}

/** Film pixels under the pointer. @param {PointerEvent|WheelEvent} event @returns {Px} */
function pxAt(event) {
  const drawing = /** @type {SVGSVGElement} */ (/** @type {Element} */ (event.currentTarget));
  const matrix = drawing.getScreenCTM();
  if (!matrix) return [0, 0];
  const p = new DOMPoint(event.clientX, event.clientY).matrixTransform(matrix.inverse());
  return [p.x, p.y];
}

/** @param {FilmDesk} desk @param {{read: () => void, busy: boolean, may: boolean}} how */
export function filmDesk(desk, { read, busy, may }) {
  const next = desk.next;
  const missing = missingWords(desk.wanted, desk.clicks);
  const count = desk.wanted.filter((w) => desk.clicks[w.name]).length;
  return html`<div class="film-desk" data-film=${desk.film.name}>
    ${filmDrawing(desk, may)}
    <div class="film-tools row small">
      <label class="row">Brightness <input type="range" min="0" max="100" .value=${String(desk.bright)} @input=${(/** @type {Event} */ e) => { desk.bright = Number(/** @type {HTMLInputElement} */ (e.target).value); desk.changed(); }} /></label>
      <label class="row">Contrast <input type="range" min="0" max="100" .value=${String(desk.contrast)} @input=${(/** @type {Event} */ e) => { desk.contrast = Number(/** @type {HTMLInputElement} */ (e.target).value); desk.changed(); }} /></label>
      <button type="button" class="small" @click=${() => desk.whole()}>Whole film</button>
    </div>
    ${may
      ? html`<p class="film-next" role="status">${next ? html`${desk.reading && !count ? "Read; click anew to correct: " : "Click: "}<strong>${next.words}</strong>` : "Every point is there."} <span class="quiet">${count} of ${desk.wanted.length}</span></p>
        <div class="row">
          <button type="button" class="small" id="point-back" @click=${() => desk.back()} ?disabled=${count === 0 && desk.passed.size === 0}>Take back</button>
          <button type="button" class="small" id="point-pass" @click=${() => desk.pass()} ?disabled=${!next || next.needed}>Leave out</button>
          <button type="button" class="strong" id="read-film" @click=${read} ?disabled=${busy || missing !== ""}>${busy ? "Reading…" : "Read the film"}</button>
        </div>
        <p class="small quiet">${missing || "Points may be some millimetres off: they are snapped to what the film shows."} Keys on the film: arrows move the cross (with Shift by 10), Enter sets the point, + and − zoom.</p>`
      : nothing}
    ${desk.reading ? readingPart(desk.reading) : nothing}
  </div>`;
}

/** @param {FilmDesk} desk @param {boolean} may */
function filmDrawing(desk, may) {
  const { box, header } = desk;
  const level = Math.min(header.max_level, Math.max(0, header.max_level - Math.floor(Math.log2(Math.max(1, box.wide / 900)))));
  const tiles = tilesIn(header, level, { low: [box.x, box.y], high: [box.x + box.wide, box.y + box.high] });
  const unit = box.wide / 100;
  const drawn = desk.marks ? drawnMarks(desk.marks) : { lines: [], points: [] };
  const keys = (/** @type {KeyboardEvent} */ e) => {
    const step = (e.shiftKey ? 10 : 1) * Math.max(1, box.wide / 400);
    /** @type {Record<string, Px>} */
    const moves = { ArrowLeft: [-step, 0], ArrowRight: [step, 0], ArrowUp: [0, -step], ArrowDown: [0, step] };
    if (moves[e.key]) desk.cross = [desk.cross[0] + moves[e.key][0], desk.cross[1] + moves[e.key][1]];
    else if (e.key === "Enter" && !e.ctrlKey && !e.metaKey) desk.place(desk.cross);
    else if (e.key === "+" || e.key === "=") desk.zoom(1.3, desk.cross);
    else if (e.key === "-") desk.zoom(1 / 1.3, desk.cross);
    else if (e.key === "Backspace") desk.back();
    else return;
    e.preventDefault();
    desk.changed();
  };
  return html`<svg class="film-view" tabindex="0" role="application" aria-label="Film ${desk.film.name}: ${desk.next ? `next point, ${desk.next.words}` : "all points set"}"
    viewBox="${box.x} ${box.y} ${box.wide} ${box.high}" data-cross=${JSON.stringify(desk.cross)}
    @keydown=${keys}
    @wheel=${{ handleEvent: (/** @type {WheelEvent} */ e) => { e.preventDefault(); desk.zoom(e.deltaY < 0 ? 1.25 : 0.8, pxAt(e)); }, passive: false }}
    @pointerdown=${(/** @type {PointerEvent} */ e) => { desk.held = { x: e.clientX, y: e.clientY, moved: false }; /** @type {Element} */ (e.currentTarget).setPointerCapture(e.pointerId); }}
    @pointermove=${(/** @type {PointerEvent} */ e) => {
      if (!desk.held) return;
      const dx = e.clientX - desk.held.x;
      const dy = e.clientY - desk.held.y;
      if (!desk.held.moved && Math.hypot(dx, dy) < 5) return;
      const scale = desk.box.wide / /** @type {Element} */ (e.currentTarget).clientWidth;
      desk.held = { x: e.clientX, y: e.clientY, moved: true };
      desk.box = { ...desk.box, x: desk.box.x - dx * scale, y: desk.box.y - dy * scale };
      desk.changed();
    }}
    @pointerup=${(/** @type {PointerEvent} */ e) => {
      const click = desk.held && !desk.held.moved;
      desk.held = null;
      if (!click) return;
      desk.cross = pxAt(e);
      if (may) desk.place(desk.cross);
      else desk.changed();
    }}>
    ${tiles.map((t) => svg`<image href=${tileUrl(header, t, desk.look)} x=${t.left_px - 0.5} y=${t.top_px - 0.5} width=${t.wide_px + 0.3} height=${t.high_px + 0.3} preserveAspectRatio="none" />`)}
    ${drawn.lines.map((l) => svg`<line class="mark-line ${l.what.replaceAll(" ", "-")}" x1=${l.a[0]} y1=${l.a[1]} x2=${l.b[0]} y2=${l.b[1]} vector-effect="non-scaling-stroke"><title>${l.what}</title></line>`)}
    ${drawn.points.map((p) => svg`<path class="mark-point ${p.snapped ? "snapped" : "clicked"}" d="M${p.at[0] - unit} ${p.at[1]}h${2 * unit}M${p.at[0]} ${p.at[1] - unit}v${2 * unit}" vector-effect="non-scaling-stroke"><title>${p.what}, ${p.snapped ? "snapped" : "as clicked"}</title></path>`)}
    ${Object.entries(desk.clicks).map(([name, at]) => svg`<circle class="click" cx=${at[0]} cy=${at[1]} r=${unit} vector-effect="non-scaling-stroke"><title>${name.replaceAll("_", " ")}</title></circle>`)}
    <path class="cross" d="M${desk.cross[0] - 2.4 * unit} ${desk.cross[1]}h${1.6 * unit}m${1.6 * unit} 0h${1.6 * unit}M${desk.cross[0]} ${desk.cross[1] - 2.4 * unit}v${1.6 * unit}m0 ${1.6 * unit}v${1.6 * unit}" vector-effect="non-scaling-stroke" />
  </svg>`;
}

/** @param {any} r */
function readingPart(r) {
  const mm = (/** @type {any} */ v) => (v ? `${fixed(v.mm, 1)} ± ${fixed(1.96 * v.sd_mm, 1)} mm` : "not read");
  const rows = [
    ["gained", mm(r.gained)],
    ["by the nail", mm(r.gained_by_nail)],
    ["by the gap", mm(r.gained_by_gap)],
    ["prescribed, by the diary", `${fixed(r.agreement.prescribed_mm, 1)} mm, ${fixed(r.agreement.reported_mm, 1)} mm`],
    ["angulation since the operation", r.angulation ? `${amountWords(r.angulation)} ± ${fixed(1.96 * r.angulation.sd_deg, 1)}°` : "not read"],
    ["shift since the operation", r.translation ? `${fixed(r.translation.mm, 1)} mm ${r.translation.direction ?? ""} ± ${fixed(1.96 * r.translation.sd_mm, 1)}` : "not read"],
    ["overlap left", mm(r.overlap)],
    ...(r.projection === "frontal" && r.bone === "tibia" ? [["fibular head, distal", mm(r.head_distal)], ["malleolus, proximal", mm(r.malleolus_proximal)]] : []),
    ...r.joint_angles.map((/** @type {any} */ a) => [a.measure, `${fixed(a.deg, 1)} ± ${fixed(1.96 * a.sd_deg, 1)}°`]),
    ...(r.new_bone ? newBoneRows(r.new_bone) : [["new bone", "not measured"]]),
  ];
  return html`<section class="card" aria-label="Read from the film"><h3>Read from the ${r.projection} film</h3>
    <dl class="pairs">${rows.map(([what, said]) => html`<dt>${sentence(what)}</dt><dd>${said}</dd>`)}</dl>
    ${r.not_snapped.length ? html`<p class="small quiet">As clicked: ${r.not_snapped.map((/** @type {any} */ n) => `${n.what} (${n.why.replace(/\.$/, "")})`).join("; ")}.</p>` : nothing}
    ${r.findings.length ? findingList(r.findings) : nothing}
    <p class="small quiet">These are in the form now; they are saved with the visit, together with the marks.</p></section>`;
}

/** @param {any} n */
function newBoneRows(n) {
  const cortex = (/** @type {any} */ c) => `${fixed(c.pixel_value_ratio, 2)} ± ${fixed(1.96 * c.pixel_value_ratio_sd, 2)}${c.bridged ? ", bridged" : ""}`;
  return [
    ...Object.entries(n.cortices).map(([side, c]) => [`density ratio, ${side}`, cortex(c)]),
    ["width, new bone over bone", n.width_ratio === null ? "borders not seen" : `${fixed(n.width_ratio, 2)} ± ${fixed(1.96 * n.width_ratio_sd, 2)}`],
    ["outline", n.outline],
  ];
}

/** @param {FilmDesk} desk */
export function clicksOf(desk) {
  return clicksSent(desk.clicks);
}
