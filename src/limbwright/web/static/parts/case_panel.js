/**
 * What the surgeon knows beside the landmarks: scale of the films, goal, examination.
 * @module
 */
import { html, nothing } from "../vendor/lit-html/lit-html.js";
import { sentence } from "../models/wording.js";

/** Numbers of the examination: key, words, unit, limits. */
const NUMBERS = /** @type {const} */ ([
  ["knee_flexion_deg", "Knee flexion", "°", 0, 170],
  ["knee_extension_loss_deg", "Knee extension loss", "°", 0, 90],
  ["ankle_dorsiflexion_deg", "Ankle dorsiflexion, knee straight (minus: equinus)", "°", -60, 60],
  ["ankle_dorsiflexion_knee_bent_deg", "Ankle dorsiflexion, knee bent (minus: equinus)", "°", -60, 60],
  ["block_test_mm", "Blocks under this side that level the pelvis", "mm", -200, 200],
  ["foot_height_difference_mm", "Foot height: other side minus this side", "mm", -60, 60],
]);
const JOINTS = ["hip", "knee", "ankle"];
const STATES = ["stable", "unstable", "fused", "replaced"];

/**
 * @param {object} what @param {any} what.document_case
 * @param {{projection: string, name: string, scale: any}[]} what.films films on the table
 * @param {import("./more_films.js").MoreFilms} what.more further films
 * @param {import("./scaling.js").Scaling} what.scaling a film's scale being marked
 * @param {(part: "examination"|"goal", changes: any, words: string) => void} what.edit
 */
export function casePanel({ document_case, films, scaling, more, edit }) {
  const examination = document_case.examination ?? {};
  const goal = document_case.goal ?? {};
  const number = (/** @type {Event} */ e) => {
    const text = /** @type {HTMLInputElement} */ (e.target).value;
    return text === "" ? null : Number(text);
  };
  return html`<div class="stack">
    <section class="stack" aria-labelledby="scale-head"><h2 id="scale-head">Scale of the films</h2>
      ${films.map((f) => filmScale(f, scaling))}
      ${scaling.note ? html`<p class="small" role="status">${sentence(scaling.note)}</p>` : nothing}</section>
    <section class="stack" aria-labelledby="goal-head"><h2 id="goal-head">Goal</h2>
      <label class="field">Leave this leg shorter by [mm]<input type="number" step="1" min="-100" max="100" .value=${String(goal.leave_short_mm ?? 0)}
        @change=${(/** @type {Event} */ e) => edit("goal", { leave_short_mm: number(e) ?? 0 }, "goal: difference left")} /></label>
      <label><input type="checkbox" .checked=${goal.correct_alignment ?? true} @change=${(/** @type {Event} */ e) => edit("goal", { correct_alignment: /** @type {HTMLInputElement} */ (e.target).checked }, "goal: alignment")} /> correct the alignment, not only the length</label></section>
    <section class="stack" aria-labelledby="examination-head"><h2 id="examination-head">Examination</h2>
      ${NUMBERS.map(([key, words, unit, low, high]) => html`<label class="field-row">${words}
        <span><input class="short" type="number" step="1" min=${low} max=${high} .value=${examination[key] === undefined || examination[key] === null ? "" : String(examination[key])}
          @change=${(/** @type {Event} */ e) => edit("examination", { [key]: number(e) }, words.toLowerCase())} /> ${unit}</span></label>`)}
      ${JOINTS.map((joint) => html`<label class="field-row">${sentence(joint)} of this side
        <select @change=${(/** @type {Event} */ e) => edit("examination", { [joint]: /** @type {HTMLSelectElement} */ (e.target).value }, `${joint} joint`)}>${STATES.map((s) => html`<option value=${s} .selected=${s === (examination[joint] ?? "stable")}>${s}</option>`)}</select></label>`)}
      <p class="small quiet">Empty means not examined; what needs it then says so.</p></section>
    ${more.view()}
  </div>`;
}

/** What can stand on a film to give its scale: words, the number it is known by, a usual value. */
const KNOWN = /** @type {const} */ ([
  ["calibration ball", "Ball of", "mm across", 25],
  ["ruler", "Ruler with a tick every", "mm", 10],
  ["nail", "Nail of", "mm across", 10],
  ["edge of the ball", "Ball by three points, of", "mm across", 25],
]);

/** @param {any} f @param {import("./scaling.js").Scaling} scaling */
function filmScale(f, scaling) {
  const now = scaling.now?.film === f.name ? scaling.now : null;
  return html`<div class="stack tight">
    <p>${sentence(f.name)}: ${f.scale ? html`${f.scale.method}, ±${(f.scale.relative_sd * 196).toFixed(1)} %` : "no scale yet; millimetres are not known"}</p>
    ${now
      ? html`<p>Click the ${scaling.wordsIn(f.projection)}.</p>
          <div class="row">${now.reply ? html`<button type="button" class="strong small" id="take-scale" @click=${() => scaling.take()}>Take it <kbd>Enter</kbd></button>` : nothing}
            <button type="button" class="small" @click=${() => (scaling.stop(), scaling.table.paint())}>Stop</button></div>`
      : html`<details class="why small" ?open=${!f.scale}><summary>${f.scale ? "mark it anew" : "mark something of known size"}</summary>
          ${KNOWN.map(([what, words, unit, usual]) => {
            const id = `${what.replaceAll(" ", "-")}-${f.projection}`;
            return html`<div class="row apart"><label class="row small">${words} <input id=${id} class="short" type="number" min="1" max="200" step="0.1" value=${usual} /> ${unit}</label>
              <button type="button" class="small" @click=${() => {
                const input = /** @type {HTMLInputElement} */ (document.getElementById(id));
                if (input.reportValidity() && input.value) scaling.begin(f.name, what, Number(input.value));
              }}>Mark<span class="for-readers"> the ${what} on the ${f.projection} film</span></button></div>`;
          })}</details>`}
    ${f.scale ? nothing : html`<p class="small quiet">It lies at the level of the bone, or its distance is part of the uncertainty.</p>`}
  </div>`;
}
