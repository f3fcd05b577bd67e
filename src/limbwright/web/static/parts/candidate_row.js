/**
 * Candidates as small multiples: what each buys and what it costs; one becomes the plan.
 * @module
 */
import { html, nothing, svg } from "../vendor/lit-html/lit-html.js";
import { amountWords } from "../models/wording.js";
import { countWords, trouble } from "./findings.js";

/** A small drawing of the leg in one plane. @param {any} drawing @param {1|-1} across_sign */
export function smallLeg(drawing, across_sign) {
  const shapes = (drawing?.shapes ?? []).filter((/** @type {any} */ s) => s.points_mm.length > 1);
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
 * @param {object} what @param {any[]|null} what.candidates @param {import("../api.js").Failure|null} what.failure
 * @param {1|-1} what.across_sign @param {(candidate: any) => boolean} what.chosen
 * @param {(candidate: any) => void} what.choose
 */
export function candidateRow({ candidates, failure, across_sign, chosen, choose }) {
  if (failure) return trouble(failure);
  if (!candidates) return html`<p class="quiet waiting">Looking for other ways to do it…</p>`;
  if (!candidates.length) return html`<p class="quiet">There is no other way that fits this leg and this catalogue.</p>`;
  return html`<ul class="candidates">
    ${candidates.map((c) => {
      const now = chosen(c);
      return html`<li class=${now ? "candidate chosen" : "candidate"}>
        ${smallLeg(c.drawing?.frontal, across_sign)}
        <div class="candidate-words" tabindex="0" role="group" aria-label=${c.title}>
          <div class="row apart"><h3>${c.title}</h3>
            ${now ? html`<span class="badge planned">✓ this plan</span>` : html`<button type="button" class="small" @click=${() => choose(c)}>Choose<span class="for-readers">: ${c.title}</span></button>`}</div>
          <p class="small">${c.bones.map((/** @type {any} */ b) => `${b.bone} ${Math.round(b.lengthening_mm)} mm, cut ${Math.round(b.osteotomy_below_joint_mm)}, ${b.nail}`).join(" · ")}</p>
          ${c.buys.length ? html`<p class="small"><strong class="buys">+ buys</strong> ${c.buys.join("; ")}</p>` : nothing}
          ${c.costs.length ? html`<p class="small"><strong class="costs">− costs</strong> ${c.costs.join("; ")}</p>` : nothing}
          <p class="small">${(c.end ?? []).slice(0, 3).map((/** @type {any} */ r) => `${r.measure} ${amountWords(r)}`).join(" · ")}</p>
          <div class="row small">${countWords(c.findings)}</div>
        </div>
      </li>`;
    })}
  </ul>`;
}
