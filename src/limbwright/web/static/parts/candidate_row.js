/**
 * Candidates as small multiples: what each buys and what it costs; one becomes the plan. All of them side by side in full.
 * @module
 */
import { html, nothing, render, svg } from "../vendor/lit-html/lit-html.js";
import { amountWords, fixed, sentence } from "../models/wording.js";
import { countWords, trouble } from "./findings.js";

/** A small drawing in one plane: the leg, or some of its bones. @param {any} drawing @param {1|-1} across_sign @param {string[]} [bones] */
export function smallLeg(drawing, across_sign, bones) {
  const shapes = (drawing?.shapes ?? []).filter((/** @type {any} */ s) => s.points_mm.length > 1 && (!bones || bones.includes(s.bone)));
  const points = shapes.flatMap((/** @type {any} */ s) => s.points_mm);
  if (!points.length) return nothing;
  const xs = points.map((/** @type {any} */ p) => p[0] * across_sign);
  const ys = points.map((/** @type {any} */ p) => -p[1]);
  const [low_x, low_y] = [Math.min(...xs), Math.min(...ys)];
  const [wide, high] = [Math.max(...xs) - low_x, Math.max(...ys) - low_y];
  const margin = high * 0.03;
  return html`<svg class="small-leg" viewBox="${low_x - margin} ${low_y - margin} ${wide + 2 * margin} ${high + 2 * margin}" aria-hidden="true">
    ${shapes.map((/** @type {any} */ s) => {
      const d = s.points_mm.map((/** @type {any} */ p, /** @type {number} */ i) => `${i ? "L" : "M"}${(p[0] * across_sign).toFixed(1)} ${(-p[1]).toFixed(1)}`).join("");
      return svg`<path class=${`k-${s.kind.replaceAll(/[^a-z]+/g, "-")}`} d=${d + (s.closed ? "z" : "")} vector-effect="non-scaling-stroke"/>`;
    })}
  </svg>`;
}

/**
 * @typedef {object} Row
 * @property {any[]|null} candidates @property {import("../api.js").Failure|null} failure @property {1|-1} across_sign
 * @property {boolean} may role plans @property {(candidate: any) => void} choose
 * @property {number} considered how many were looked at @property {string} validation what has not been shown of the forecast behind them
 */

/** @param {Row} what */
export function candidateRow({ candidates, failure, across_sign, may, choose }) {
  if (failure) return trouble(failure);
  if (!candidates) return html`<p class="quiet waiting" role="status">Looking for other ways to do it; this takes some seconds…</p>`;
  if (!candidates.length) return html`<p class="quiet">There is no other way that fits this leg and this catalogue.</p>`;
  return html`<ul class="candidates">
    ${candidates.map((c) => {
      const now = Boolean(c.as_planned);
      return html`<li class=${now ? "candidate chosen" : "candidate"}>
        ${smallLeg(c.drawing?.frontal, across_sign, bonesOf(c))}
        <div class="candidate-words" tabindex="0" role="group" aria-label=${c.title}>
          <div class="row apart"><h3>${c.title}</h3>${chooser(c, now, may, choose)}</div>
          <p class="small">${boneWords(c)}</p>
          ${probability(c) ? html`<p class="small"><strong>${probability(c)}</strong> inside every tolerance</p>` : nothing}
          ${c.buys.length ? html`<p class="small"><strong class="buys">+ buys</strong> ${c.buys.join("; ")}</p>` : nothing}
          ${c.costs.length ? html`<p class="small"><strong class="costs">− costs</strong> ${c.costs.join("; ")}</p>` : nothing}
          ${c.buys.length || c.costs.length ? nothing : html`<p class="small">${c.words ?? ""}</p>`}
          <p class="small">${endWords(c)}</p>
        </div>
      </li>`;
    })}
  </ul>`;
}

/** @param {any} c @param {boolean} now @param {boolean} may @param {(candidate: any) => void} choose */
function chooser(c, now, may, choose) {
  if (!now && !may) return nothing;
  return now
    ? html`<span class="badge planned">✓ this plan</span>`
    : html`<button type="button" class="small" @click=${() => choose(c)}>Choose<span class="for-readers">: ${c.title}</span></button>`;
}

/** @param {any} c @returns {string[]} */
function bonesOf(c) {
  return c.bones.map((/** @type {any} */ b) => b.bone);
}

/** @param {any} c */
function boneWords(c) {
  return c.bones.map((/** @type {any} */ b) => `${b.bone} ${Math.round(b.lengthening_mm)} mm, cut ${Math.round(b.osteotomy_below_joint_mm)}, ${b.nail}`).join(" · ");
}

/** @param {any} c */
function endWords(c) {
  return (c.end ?? []).slice(0, 3).map((/** @type {any} */ r) => `${r.measure} ${amountWords(r)}`).join(" · ");
}

/** Probability of ending inside every tolerance. @param {any} c */
function probability(c) {
  return c.inside_tolerance === null || c.inside_tolerance === undefined ? "" : `${fixed(100 * c.inside_tolerance, 0)} %`;
}

/** @param {any} s */
function screwWords(s) {
  return `${s.side}, ${s.fragment}, ${Math.round(s.from_osteotomy_mm)} mm from the cut`;
}

/** @param {any} b */
function driftOf(b) {
  return [b.drift_frontal, b.drift_sagittal].filter(Boolean).map(amountWords).join(", ") || "none";
}

/** Everything that can be compared: words, and what each candidate says to it. @type {[string, (c: any) => unknown][]} */
const ROWS = [
  ["Inside every tolerance", (c) => html`<strong>${probability(c) || "not computed"}</strong>${c.least_sure ? html` <span class="quiet">least sure: ${c.least_sure.name}, ${fixed(100 * c.least_sure.probability, 0)} %</span>` : nothing}`],
  ["Buys", (c) => lines(c.buys)],
  ["Costs", (c) => lines(c.costs)],
  ["Bone and length", (c) => lines(c.bones.map((/** @type {any} */ b) => `${sentence(b.bone)}, ${Math.round(b.lengthening_mm)} mm`))],
  ["Osteotomy below the joint", (c) => lines(c.bones.map((/** @type {any} */ b) => `${Math.round(b.osteotomy_below_joint_mm)} mm`))],
  ["Nail", (c) => lines(c.bones.map((/** @type {any} */ b) => b.nail))],
  ["Blocking screws", (c) => lines(c.bones.flatMap((/** @type {any} */ b) => (Array.isArray(b.blocking_screws) ? b.blocking_screws : []).map(screwWords)), "none")],
  ["Expected drift", (c) => lines(c.bones.map(driftOf))],
  ["Thick part in the moving fragment", (c) => lines(c.bones.map((/** @type {any} */ b) => (b.overlap_at_full_length_mm === undefined ? "" : `${fixed(b.overlap_at_full_length_mm, 0)} mm`)).filter(Boolean), "")],
  ["At the end", (c) => lines((c.end ?? []).map((/** @type {any} */ r) => `${r.measure} ${amountWords(r)}`))],
  ["Findings", (c) => countWords(c.findings)],
  ["Line of the nail", (c) => lines(c.bones.map((/** @type {any} */ b) => b.path).filter(Boolean))],
];

/** @param {string[]} said @param {string} none */
function lines(said, none = "nothing") {
  return said.length ? html`<ul>${said.map((one) => html`<li>${one}</li>`)}</ul>` : html`<span class="quiet">${none}</span>`;
}

/** @param {HTMLDialogElement} dialog @param {Row} what */
export function compareCandidates(dialog, { candidates, across_sign, may, considered, validation, choose }) {
  const all = candidates ?? [];
  render(
    html`<div class="row apart"><h2>Candidates side by side</h2><button type="button" @click=${() => dialog.close()}>Close</button></div>
      <div class="compare-scroll" tabindex="0" role="group" aria-label="Comparison"><table class="compare">
        <thead>
          <tr><td></td>${all.map((c) => html`<th scope="col">${c.title}</th>`)}</tr>
          <tr><td></td>${all.map((c) => html`<td><div class="row">${smallLeg(c.drawing?.frontal, across_sign, bonesOf(c))}</div>${chooser(c, Boolean(c.as_planned), may, (one) => (dialog.close(), choose(one)))}</td>`)}</tr>
        </thead>
        <tbody>${ROWS.map(([words, said]) => html`<tr><th scope="row">${words}</th>${all.map((c) => html`<td>${said(c)}</td>`)}</tr>`)}</tbody>
      </table></div>
      <p class="small quiet">What is bought and cost is against the plan as it stands. ${considered ? `${considered.toLocaleString("en")} were looked at.` : ""} Choosing one makes it the plan; it can be altered afterwards, and undone. ${validation}</p>`,
    dialog,
  );
  dialog.showModal();
}
