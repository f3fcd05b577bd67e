/**
 * Accepting a plan: every stop is resolved, or overridden with a typed reason; then it is signed and can be printed.
 * @module
 */
import { call, failureOf } from "../api.js";
import { html, nothing } from "../vendor/lit-html/lit-html.js";
import { whenWords } from "../models/wording.js";
import { findingItem, trouble } from "./findings.js";

export const REASON_LETTERS = 10;

/**
 * @param {object} what @param {any[]} what.stops @param {Map<string, string>} what.reasons typed so far, by finding
 * @param {any} what.acceptance @param {boolean} what.later changed since it was accepted @param {boolean} what.plan @param {boolean} what.saved @param {boolean} what.may role signs
 * @param {import("../api.js").Failure|null} what.failure @param {boolean} what.busy @param {string} what.id
 * @param {() => void} what.accept @param {(finding: any, reason: string) => void} what.typed
 */
export function acceptPanel({ stops, reasons, acceptance, later, plan, saved, may, failure, busy, id, accept, typed }) {
  const open = stops.filter((s) => (reasons.get(s.id + s.words) ?? "").trim().length < REASON_LETTERS);
  const path = `/cases/${encodeURIComponent(id)}`;
  const api = `/api/cases/${encodeURIComponent(id)}`;
  return html`<div class="stack">
    ${acceptance
      ? html`<p class="hush"><strong>✓ Accepted</strong> by ${acceptance.by}, ${whenWords(acceptance.at)}. ${later ? html`<strong>The case was changed since: version ${acceptance.of_version + 1} is the accepted one.</strong> Accept again if the plan is to follow.` : "A later change needs accepting again."}</p>
          <div class="row">
            <a class="button strong" href="${api}/operation-plan.pdf" target="_blank" rel="noopener">Operation plan (PDF)</a>
            <a class="button" href="${path}/operation">Operation</a>
            <a class="button" href="${path}/sheet">Theatre sheet</a>
          </div>`
      : nothing}
    ${stops.length
      ? html`<p>${stops.length === 1 ? "One stop stands" : `${stops.length} stops stand`} against this plan. Resolve each, or say why you go on all the same.</p>
          <ul>${stops.map((s, i) =>
            findingItem(s, html`<label class="field"><span>Your reason, at least ${REASON_LETTERS} letters</span>
              <textarea id="reason-${i}" .value=${reasons.get(s.id + s.words) ?? ""} @input=${(/** @type {Event} */ e) => typed(s, /** @type {HTMLTextAreaElement} */ (e.target).value)}></textarea></label>`),
          )}</ul>`
      : html`<p>${plan ? "No stop stands against this plan." : "There is no plan to accept yet."}</p>`}
    ${trouble(failure)}
    <div class="row">
      <button type="button" class="strong" id="accept" ?disabled=${!plan || open.length > 0 || !may || busy} @click=${accept}>${busy ? "Accepting…" : acceptance ? "Accept again" : "Accept this plan"}</button>
      ${open.length ? html`<span class="small">${open.length} without a reason</span>` : nothing}
      ${may ? nothing : html`<span class="small">Accepting needs the role that signs; ask the surgeon.</span>`}
      ${saved ? nothing : html`<span class="small quiet">Changes are saved first.</span>`}
    </div>
  </div>`;
}

/** Save what is not saved, sign the plan, and take up the version that holds it. @param {import("../pages/table.js").LightTable} table */
export async function acceptPlan(table) {
  table.accepting = true;
  table.accept_trouble = null;
  table.paint();
  try {
    if (!(await table.work.save())) throw new Error("the case could not be saved first");
    const stops = (table.work.answer?.findings ?? []).filter((/** @type {any} */ f) => f.severity === "stop");
    await call("POST", `/api/cases/${encodeURIComponent(table.work.id)}/accept`, {
      base_version: table.work.version,
      overrides: stops.map((/** @type {any} */ s) => ({ finding: s.id, words: s.words, reason: table.reasons.get(s.id + s.words) ?? "" })),
    });
    table.work.taken(await call("GET", `/api/cases/${encodeURIComponent(table.work.id)}`), "plan accepted");
    table.says = "The plan is accepted.";
  } catch (error) {
    table.accept_trouble = failureOf(error);
  }
  table.accepting = false;
  table.paint();
}
