/**
 * Findings: shape, word and colour together; what to do next; the rule and its source behind 'why'.
 * @module
 */
import { html, nothing, svg } from "../vendor/lit-html/lit-html.js";
import { counted, fixed } from "../models/wording.js";

/** @typedef {{id: string, severity: "note"|"caution"|"stop", words: string, next: string, numbers: {name: string, value: number, unit: string}[], rule: string, source: string}} Finding */

const ORDER = { stop: 0, caution: 1, note: 2 };

/** Note circle, caution triangle, stop octagon. @param {string} severity */
export function shape(severity) {
  const inner =
    severity === "stop"
      ? svg`<path d="M6 1.5h6L16.5 6v6L12 16.5H6L1.5 12V6z" fill="currentColor"/><path d="M5.5 9h7" stroke="var(--card)" stroke-width="2.2"/>`
      : severity === "caution"
        ? svg`<path d="M9 2 16.8 15.8H1.2z" fill="none" stroke="currentColor" stroke-width="1.8" stroke-linejoin="round"/><path d="M9 7v4M9 12.6v1.2" stroke="currentColor" stroke-width="1.7"/>`
        : svg`<circle cx="9" cy="9" r="7" fill="none" stroke="currentColor" stroke-width="1.8"/>`;
  return html`<svg class="mark-shape" viewBox="0 0 18 18" aria-hidden="true">${inner}</svg>`;
}

/** Every finding once, worst first. @param {(Finding[]|undefined|null)[]} lists @returns {Finding[]} */
export function gathered(...lists) {
  const seen = new Set();
  return lists
    .flatMap((l) => l ?? [])
    .filter((f) => !seen.has(f.id + f.words) && seen.add(f.id + f.words))
    .sort((a, b) => ORDER[a.severity] - ORDER[b.severity]);
}

/** @param {Finding} finding @param {unknown} [extra] */
export function findingItem(finding, extra) {
  return html`<li class="finding ${finding.severity}">
    ${shape(finding.severity)}
    <div>
      <span class="word">${finding.severity}</span>
      ${finding.words}
      ${finding.next ? html`<span class="next">${finding.next}</span>` : nothing}
      ${extra ?? nothing}
      <details>
        <summary>why<span class="for-readers">: ${finding.words}</span></summary>
        ${finding.numbers.map((n) => html`<p>${n.name}: ${numberWords(n)}</p>`)}
        <p>${finding.rule}</p>
        <p class="quiet">${finding.source}</p>
      </details>
    </div>
  </li>`;
}

/** @param {{value: number, unit: string}} n */
export function numberWords(n) {
  const unit = n.unit === "deg" ? "°" : n.unit ? ` ${n.unit}` : "";
  return `${fixed(n.value, Math.abs(n.value) >= 100 || Number.isInteger(n.value) ? 0 : 1)}${unit}`;
}

/** @param {Finding[]} findings @param {string} [none] */
export function findingList(findings, none = "No findings.") {
  return findings.length
    ? html`<ul class="findings">${findings.map((f) => findingItem(f))}</ul>`
    : html`<p class="quiet">${none}</p>`;
}

/** Stops and cautions open, notes behind their count. @param {Finding[]} findings @param {string} none */
export function findingGroups(findings, none) {
  const notes = findings.filter((f) => f.severity === "note");
  const rest = findings.filter((f) => f.severity !== "note");
  if (!findings.length) return html`<p class="quiet">${none}</p>`;
  return html`${rest.length ? html`<ul>${rest.map((f) => findingItem(f))}</ul>` : html`<p class="quiet">Nothing stops this plan and nothing calls for caution.</p>`}
    ${notes.length
      ? html`<details class="notes"><summary>${shape("note")} ${counted(notes.length, "note")}</summary><ul>${notes.map((f) => findingItem(f))}</ul></details>`
      : nothing}`;
}

/** @param {{stop: number, caution: number, note: number} | null | undefined} counts */
export function countWords(counts) {
  if (!counts) return html`<span class="quiet">not computed yet</span>`;
  const parts = /** @type {const} */ (["stop", "caution", "note"]).filter((s) => counts[s]);
  return parts.length
    ? html`<span class="counts">${parts.map((s) => html`<span class=${s}>${shape(s)} ${counts[s]} ${s}</span>`)}</span>`
    : html`<span class="quiet">no findings</span>`;
}

/** What went wrong, where, and what to do next. @param {import("../api.js").Failure|null|undefined} failure @param {unknown} [action] */
export function trouble(failure, action) {
  if (!failure) return nothing;
  return html`<div class="trouble" role="alert">
    <p><strong>${failure.where ? `${failure.where}: ` : ""}</strong>${failure.found} ${failure.next}</p>
    ${(failure.problems ?? []).slice(0, 8).map((p) => html`<p class="small">${p.path} ${p.value ? `= ${p.value}` : ""}: ${p.found} ${p.next ?? ""}</p>`)}
    ${action ?? nothing}
  </div>`;
}
