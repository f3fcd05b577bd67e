/**
 * The patient's diary as a list to tick: one box for each dose of a day. A day nobody wrote down counts as done as
 * prescribed; ticking a box writes the day down.
 * @module
 */
import { html, nothing } from "../vendor/lit-html/lit-html.js";
import { whenWords } from "../models/wording.js";

/** @typedef {{day: number, on: string, prescribed: number, made: number, written_down: boolean}} DoseDay */

/** Steps of a day after its box was ticked or unticked. @param {number} made @param {boolean} ticked */
export function stepsAfter(made, ticked) {
  return Math.max(0, made + (ticked ? 1 : -1));
}

/**
 * @param {object} what @param {string} what.bone @param {DoseDay[]} what.doses @param {boolean} what.may
 * @param {(on: string, steps: number | null) => void} what.write steps of a day, null to take the entry out
 */
export function diaryList({ bone, doses, may, write }) {
  if (!doses.length) return nothing;
  return html`<details class="card" data-diary=${bone}><summary><h2>Diary, ${bone}: the last ${doses.length} days with doses</h2></summary>
    <p class="small quiet">A day nobody wrote down counts as done as prescribed.</p>
    ${[...doses].reverse().map((d) => doseDay(d, may, write))}
  </details>`;
}

/** @param {DoseDay} d @param {boolean} may @param {(on: string, steps: number | null) => void} write */
function doseDay(d, may, write) {
  const boxes = Math.max(Math.abs(d.prescribed), Math.max(0, d.made));
  const sign = d.prescribed < 0 ? -1 : 1;
  const made = Math.max(0, sign * d.made);
  return html`<div class="dose-day" data-on=${d.on}><span>${whenWords(d.on)}</span>
    <span class="boxes" role="group" aria-label="Doses on ${d.on}">${Array.from({ length: boxes }, (_, i) => html`<input type="checkbox" aria-label="dose ${i + 1} of ${boxes} on ${d.on}" ?disabled=${!may} .checked=${i < made}
      @change=${(/** @type {Event} */ e) => write(d.on, sign * stepsAfter(made, /** @type {HTMLInputElement} */ (e.target).checked))} />`)}</span>
    <span class="small">${d.written_down ? html`written down ${may ? html`<button type="button" class="plain small" @click=${() => write(d.on, null)}>take out<span class="for-readers"> ${d.on}</span></button>` : nothing}` : html`<span class="quiet">not written down</span>`}</span>
  </div>`;
}
