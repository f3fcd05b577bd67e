/**
 * The ledger: every number as it stands and as planned, its normal range as a small bar, its uncertainty, and why.
 * @module
 */
import { html, nothing, svg } from "../vendor/lit-html/lit-html.js";
import { amountWords, fixed, plain, signedValue } from "../models/wording.js";

/** @typedef {any} Reading */

/** The trade's letters, spelled out. @type {Record<string, string>} */
export const MEASURE_WORDS = {
  MAD: "mechanical axis deviation",
  HKA: "hip-knee-ankle angle",
  aFTA: "anatomical femorotibial angle",
  mLPFA: "mechanical lateral proximal femoral angle",
  aMPFA: "anatomical medial proximal femoral angle",
  NSA: "neck-shaft angle",
  AMA: "anatomical-mechanical angle",
  mLDFA: "mechanical lateral distal femoral angle",
  aLDFA: "anatomical lateral distal femoral angle",
  JLCA: "joint line convergence angle",
  MPTA: "medial proximal tibial angle",
  LDTA: "lateral distal tibial angle",
  PDFA: "posterior distal femoral angle",
  PPTA: "posterior proximal tibial angle",
  ADTA: "anterior distal tibial angle",
};

const SPAN = 104;

/** The bar: normal range, as it stands (hollow), planned (solid), uncertainty (thin line).
 * @param {Reading|undefined} seen @param {Reading|undefined} planned */
export function bar(seen, planned) {
  const reading = seen ?? planned;
  const normal = reading?.normal;
  if (normal?.low === undefined || normal?.low === null) return html`<span class="no-bar quiet">${normal ? `mean ${fixed(normal.mean, 1)}` : ""}</span>`;
  const half = Math.max((normal.high - normal.low) / 2, 0.5);
  const low = normal.low - 3 * half;
  const wide = normal.high + 3 * half - low;
  const at = (/** @type {number} */ v) => Math.min(SPAN - 2, Math.max(2, ((v - low) / wide) * SPAN));
  const sd = (/** @type {Reading} */ r) => r.sd_deg ?? r.sd_mm ?? 0;
  const spread = (/** @type {Reading} */ r, /** @type {string} */ role) =>
    svg`<line class=${role} x1=${at(signedValue(r) - 1.96 * sd(r))} x2=${at(signedValue(r) + 1.96 * sd(r))} y1="9" y2="9"/>`;
  return html`<svg class="range-bar" viewBox="0 0 104 18" role="img" aria-label=${barWords(seen, planned, normal)}>
    <rect class="ground" x="0" y="5" width="104" height="8" rx="4"/>
    <rect class="normal" x=${at(normal.low)} y="5" width=${at(normal.high) - at(normal.low)} height="8"/>
    ${seen ? svg`${spread(seen, "seen")}<rect class="seen-tick" x=${at(signedValue(seen)) - 2} y="2.5" width="4" height="13" rx="1.5"/>` : nothing}
    ${planned ? svg`${spread(planned, "planned")}<rect class="planned-tick" x=${at(signedValue(planned)) - 1.6} y="1" width="3.2" height="16"/>` : nothing}
  </svg>`;
}

/** @param {Reading|undefined} seen @param {Reading|undefined} planned @param {any} normal */
function barWords(seen, planned, normal) {
  const parts = [`normal ${fixed(normal.low, 0)} to ${fixed(normal.high, 0)}`];
  if (seen) parts.push(`as it stands ${amountWords(seen)}`);
  if (planned) parts.push(`planned ${amountWords(planned)}`);
  return parts.join(", ");
}

/** @param {Reading} reading */
function outWords(reading) {
  if (!reading?.out_of_range) return nothing;
  return html`<span class="out">${amountWords(reading.out_of_range)} out</span>`;
}

/** @param {{measure: string, seen?: Reading, planned?: Reading}} row */
function rowOf({ measure, seen, planned }) {
  const reading = seen ?? planned;
  return html`<li class="ledger-row">
    <details class="why">
      <summary>
        <abbr title=${MEASURE_WORDS[measure] ?? measure}>${measure}</abbr>
        ${bar(seen, planned)}
        <span class="values">
          ${seen ? html`<span class="seen-value"><span class="for-readers">as it stands </span>${amountWords(seen)}</span>` : nothing}
          ${planned ? html`<span class="planned-value"><span class="for-readers">planned </span>${amountWords(planned)}</span>` : nothing}
        </span>
      </summary>
      <dl class="reasons small">
        <dt>${MEASURE_WORDS[measure] ?? measure}</dt>
        <dd>${reading.formula}</dd>
        ${seen ? html`<dt>As it stands</dt><dd>${exact(seen)} ${outWords(seen)}</dd>` : nothing}
        ${planned ? html`<dt>Planned</dt><dd>${exact(planned)} ${outWords(planned)}</dd>` : nothing}
        <dt>Normal</dt>
        <dd>${reading.normal ? html`${normalWords(reading.normal)} <span class="quiet">${reading.normal.source}</span>` : reading.normal_absent_because}</dd>
        ${reading.landmarks?.length ? html`<dt>From</dt><dd>${reading.landmarks.map(plain).join(", ")}</dd>` : nothing}
      </dl>
    </details>
  </li>`;
}

/** @param {any} normal */
function normalWords(normal) {
  return normal.low === null || normal.low === undefined
    ? `mean ${fixed(normal.mean, 1)}.`
    : `${fixed(normal.low, 0)} to ${fixed(normal.high, 0)}, mean ${fixed(normal.mean, 1)}.`;
}

/** @param {Reading} r */
function exact(r) {
  const sd = r.sd_deg ?? r.sd_mm;
  const unit = r.deg === undefined ? " mm" : "°";
  return `${amountWords(r)}${sd === undefined ? "" : ` (standard uncertainty ${fixed(sd, 1)}${unit})`}`;
}

/**
 * @param {object} what @param {Reading[]} what.seen as it stands @param {Reading[]} what.planned at the shown stage
 * @param {string} what.stage @param {any[]} what.not_measured @param {boolean} what.live numbers follow a drag
 */
export function ledger({ seen, planned, stage, not_measured, live }) {
  const names = [...new Set([...seen, ...planned].map((r) => r.measure))];
  if (!names.length) return html`<p class="quiet">Nothing is measured yet: the landmarks come first.</p>`;
  const rows = names.map((measure) => ({
    measure,
    seen: seen.find((r) => r.measure === measure),
    planned: planned.find((r) => r.measure === measure),
  }));
  return html`<div class="ledger-head small">
      <span class="seen-value">▯ as it stands</span>
      ${planned.length ? html`<span class="planned-value">▮ ${stage}${live ? ", while you drag" : ""}</span>` : nothing}
      <span class="quiet">▬ normal</span>
    </div>
    <ul class="ledger">${rows.map(rowOf)}</ul>
    ${not_measured.length
      ? html`<details class="why small"><summary>${not_measured.length} not measured</summary>
          <ul>${not_measured.map((n) => html`<li><strong>${n.measure}</strong>: ${n.reason} ${n.next}</li>`)}</ul></details>`
      : nothing}`;
}
