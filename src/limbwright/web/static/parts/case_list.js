/**
 * The list of cases: each with its stage on the time axis, the next thing due, and findings.
 * @module
 */
import { html, nothing, svg } from "../vendor/lit-html/lit-html.js";
import { sentence, whenWords } from "../models/wording.js";
import { countWords } from "./findings.js";

/** Stages in the order a case goes through them; words as the server says them. */
const STAGES = ["marking films", "measured", "goal set", "planned", "operation scheduled", "latency", "lengthening", "healing"];

/** What a case waits for before it is operated on. @type {Record<string, string>} */
const TO_DO = { "marking films": "landmarks to mark", measured: "a goal to set", "goal set": "a plan to accept", planned: "an operation to schedule" };

/** From here on there is an accepted plan with findings. */
const ACCEPTED = STAGES.indexOf("planned");

/** @param {any[]} cases @param {string} text */
export function caseList(cases, text) {
  if (!cases.length)
    return html`<p class="hush">${text ? `No case holds “${text}”. Search for fewer words.` : "No case yet. Drop the films of a patient above to begin one."}</p>`;
  return html`<table class="case-table">
    <thead><tr><th scope="col">Case</th><th scope="col">Stage</th><th scope="col">Next due</th><th scope="col">Findings</th><th scope="col">Saved</th></tr></thead>
    <tbody>${cases.map(
      (c) => html`<tr>
        <th scope="row"><a href="/cases/${encodeURIComponent(c.id)}/table">${c.id}</a> ${c.invented ? html`<span class="badge">invented</span>` : nothing}
          <p class="small">${sentence(c.side)} leg${c.diagnosis ? ` · ${c.diagnosis}` : ""}</p>
          <p class="small quiet">${c.patient_id}</p></th>
        <td>${stageLine(c.stage)}</td>
        <td>${c.next_due?.what ? html`${sentence(c.next_due.what)}${c.next_due.on ? html`<br /><span class="small">${whenWords(c.next_due.on)}</span>` : nothing}` : html`<span class="quiet">${TO_DO[c.stage] ?? "nothing is due"}</span>`}</td>
        <td>${STAGES.indexOf(c.stage) < ACCEPTED ? html`<span class="quiet">no plan accepted yet</span>` : countWords(c.findings)}</td>
        <td class="small">${whenWords(c.saved_at)}<br /><span class="quiet">${c.saved_by}, version ${c.version}</span></td>
      </tr>`,
    )}</tbody>
  </table>`;
}

/** @param {string} stage */
function stageLine(stage) {
  const at = STAGES.indexOf(stage);
  return html`<span class="stage-line"><svg viewBox="0 0 142 12" aria-hidden="true">
      <line x1="6" x2="136" y1="6" y2="6" />
      ${STAGES.map((_, i) => svg`<circle cx=${6 + i * 18.5} cy="6" r=${i === at ? 5 : 2.6} class=${i < at ? "past" : i === at ? "now" : "ahead"} />`)}
    </svg><span>${sentence(stage)}</span></span>`;
}
