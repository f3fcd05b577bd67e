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
 * @property {(candidate: any) => boolean} chosen @property {(candidate: any) => void} choose
 */

/** @param {Row} what */
export function candidateRow({ candidates, failure, across_sign, chosen, choose }) {
  if (failure) return trouble(failure);
  if (!candidates) return html`<p class="quiet waiting" role="status">Looking for other ways to do it; this takes some seconds…</p>`;
  if (!candidates.length) return html`<p class="quiet">There is no other way that fits this leg and this catalogue.</p>`;
  return html`<ul class="candidates">
    ${candidates.map((c) => {
      const now = chosen(c);
      return html`<li class=${now ? "candidate chosen" : "candidate"}>
        ${smallLeg(c.drawing?.frontal, across_sign, bonesOf(c))}
        <div class="candidate-words" tabindex="0" role="group" aria-label=${c.title}>
          <div class="row apart"><h3>${c.title}</h3>${chooser(c, now, choose)}</div>
          <p class="small">${boneWords(c)}</p>
          ${probability(c) ? html`<p class="small"><strong>${probability(c)}</strong> inside tolerance</p>` : nothing}
          ${c.buys.length ? html`<p class="small"><strong class="buys">+ buys</strong> ${c.buys.join("; ")}</p>` : nothing}
          ${c.costs.length ? html`<p class="small"><strong class="costs">− costs</strong> ${c.costs.join("; ")}</p>` : nothing}
          <p class="small">${endWords(c)}</p>
          <div class="row small">${countWords(c.findings)}</div>
        </div>
      </li>`;
    })}
  </ul>`;
}

/** @param {any} c @param {boolean} now @param {(candidate: any) => void} choose */
function chooser(c, now, choose) {
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
  const part = c.inside_tolerance ?? c.probability;
  return part === null || part === undefined ? "" : `${fixed(100 * part, 0)} %`;
}

/** Everything that can be compared: words, and what each candidate says to it. @type {[string, (c: any) => unknown][]} */
const ROWS = [
  ["Bone and length", (c) => lines(c.bones.map((/** @type {any} */ b) => `${sentence(b.bone)}, ${Math.round(b.lengthening_mm)} mm`))],
  ["Osteotomy below the joint", (c) => lines(c.bones.map((/** @type {any} */ b) => `${Math.round(b.osteotomy_below_joint_mm)} mm`))],
  ["Nail", (c) => lines(c.bones.map((/** @type {any} */ b) => b.nail))],
  ["Inside every tolerance", (c) => probability(c) || html`<span class="quiet">not computed</span>`],
  ["Buys", (c) => lines(c.buys)],
  ["Costs", (c) => lines(c.costs)],
  ["At the end", (c) => lines((c.end ?? []).map((/** @type {any} */ r) => `${r.measure} ${amountWords(r)}`))],
  ["Findings", (c) => countWords(c.findings)],
];

/** @param {string[]} said */
function lines(said) {
  return said.length ? html`<ul>${said.map((one) => html`<li>${one}</li>`)}</ul>` : html`<span class="quiet">nothing beside the first</span>`;
}

/** @param {HTMLDialogElement} dialog @param {Row} what */
export function compareCandidates(dialog, { candidates, across_sign, chosen, choose }) {
  const all = candidates ?? [];
  render(
    html`<div class="row apart"><h2>Candidates side by side</h2><button type="button" @click=${() => dialog.close()}>Close</button></div>
      <div class="compare-scroll" tabindex="0" role="group" aria-label="Comparison"><table class="compare">
        <thead>
          <tr><td></td>${all.map((c) => html`<th scope="col">${c.title}</th>`)}</tr>
          <tr><td></td>${all.map((c) => html`<td><div class="row">${smallLeg(c.drawing?.frontal, across_sign, bonesOf(c))}</div>${chooser(c, chosen(c), (one) => (dialog.close(), choose(one)))}</td>`)}</tr>
        </thead>
        <tbody>${ROWS.map(([words, said]) => html`<tr><th scope="row">${words}</th>${all.map((c) => html`<td>${said(c)}</td>`)}</tr>`)}</tbody>
      </table></div>
      <p class="small quiet">What is bought and cost is against the first. Choosing one makes it the plan; it can be altered afterwards, and undone.</p>`,
    dialog,
  );
  dialog.showModal();
}
