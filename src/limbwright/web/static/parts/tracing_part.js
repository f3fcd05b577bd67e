/**
 * Walls of the bones beside the films: which are traced, and what the trace under way shows.
 * @module
 */
import { html, nothing } from "../vendor/lit-html/lit-html.js";
import { wallsOf } from "../models/trace.js";
import { fixed, sentence } from "../models/wording.js";
import { findingList } from "./findings.js";

/** @typedef {import("../pages/table.js").LightTable} Table */

/** While walls are traced: what is asked for, what was followed and what was not. @param {Table} table */
export function tracingNow(table) {
  const { tracing } = table;
  const { now } = tracing;
  if (!now) return null;
  const { reply } = now;
  const followed = reply && !reply.refused;
  return html`<div class="stack tight">
    <p class="quiet small">${now.of.projection} film, ${now.of.side} leg</p>
    <h3>Walls of the ${now.of.bone}</h3>
    ${now.clicks_px.length < 2
      ? html`<p>Click two or three points along the middle of the shaft, ${now.clicks_px.length} of 2 set. By keyboard: arrows move the cross, Enter sets a point.</p>`
      : now.looking
        ? html`<p class="waiting" role="status">Following the walls…</p>`
        : followed
          ? followedWords(reply, now.pins.length)
          : html`<p class="trouble" role="alert">${reply?.refused ? `${sentence(reply.refused.found)} ${reply.refused.next}` : "Nothing was followed."}</p>`}
    <div class="row">
      <button type="button" class="strong small" id="take-walls" ?disabled=${!followed || now.looking} @click=${() => tracing.take()}>Take these walls <kbd>Enter</kbd></button>
      <button type="button" class="small" ?disabled=${!now.clicks_px.length} @click=${() => tracing.clear()}>Other points</button>
      ${now.task ? html`<button type="button" class="small" @click=${() => (tracing.stop(), table.placing.goOnFrom(/** @type {any} */ (now.task)))}>Skip</button>` : nothing}
      <button type="button" class="small" @click=${() => (tracing.stop(), table.paint())}>Stop</button>
    </div>
  </div>`;
}

/** @param {any} reply @param {number} pins */
function followedWords(reply, pins) {
  const { isthmus } = reply;
  return html`<p><strong>${reply.poor ? "Seen poorly" : "Followed"}</strong>, support ${fixed(reply.support, 2)}${reply.length_mm ? `, over ${fixed(reply.length_mm, 0)} mm` : ""}${pins ? `, held by ${pins} of your pins` : ""}.</p>
    <dl class="pairs small">
      ${reply.edges.map((/** @type {any} */ e) => html`<dt>${sentence(e.border)} ${e.surface} wall</dt><dd>${Math.round(e.found_percent)} % seen${e.sd_mm === null ? "" : `, ±${fixed(1.96 * e.sd_mm, 1)} mm`}</dd>`)}
      ${isthmus?.width?.mm ? html`<dt>Narrowest canal</dt><dd>${fixed(isthmus.width.mm, 1)} mm (${fixed(isthmus.width.low_mm, 1)} to ${fixed(isthmus.width.high_mm, 1)})</dd>` : nothing}
    </dl>
    ${reply.isthmus_refused ? html`<p class="small quiet">${sentence(reply.isthmus_refused.found)} ${reply.isthmus_refused.next}</p>` : nothing}
    ${reply.findings.length ? findingList(reply.findings) : nothing}
    <p class="small quiet">Where a wall runs wrong, pull it to where the film shows it: that lays a pin, and the trace goes through it. Dotted stretches are not seen on the film.</p>`;
}

/** The shafts that can be traced. @param {Table} table */
export function wallList(table) {
  const { side } = table.document;
  const rows = table.filmsShown.flatMap(({ projection, shown }) => {
    const film = table.document.films.find((/** @type {any} */ f) => f.name === shown.name);
    return film?.sha256 ? ["femur", "tibia"].map((bone) => ({ projection, film, bone, walls: wallsOf(film, side, bone) })) : [];
  });
  if (!rows.length || table.work.answer === null) return nothing;
  return html`<details class="guide-group" ?open=${table.tracing.active}>
    <summary>Walls of the bones <span class="quiet">${rows.filter((r) => r.walls.length).length} of ${rows.length} traced</span></summary>
    <ul>${rows.map(
      (r) => html`<li class="guide-row"><span>${sentence(r.bone)}, ${r.projection} <span class="quiet small">${r.walls.length ? `${r.walls.length} walls` : "not traced"}</span></span>
        <button type="button" class="plain small" data-trace="${r.projection}/${r.bone}" @click=${() => table.tracing.begin({ film: r.film.name, side, bone: r.bone, projection: r.projection })}>${r.walls.length ? "trace again" : "trace"}<span class="for-readers"> the ${r.bone} on the ${r.projection} film</span></button></li>`,
    )}</ul>
  </details>`;
}
