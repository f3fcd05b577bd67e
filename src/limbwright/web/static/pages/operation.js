/**
 * Operation: the checklist of steps, what was really done, and how it differs from the plan.
 * @module
 */
import { call, failureOf } from "../api.js";
import { html, nothing, render } from "../vendor/lit-html/lit-html.js";
import { trouble } from "../parts/findings.js";
import { sentence } from "../models/wording.js";

/** @param {any} data @param {HTMLElement} root */
export function start(data, root) {
  const path = `/api/cases/${encodeURIComponent(data.case_id)}/operation`;
  const plan = data.document.case.plan;
  let { version, record, against_plan } = data.record;
  const steps = data.record.steps ?? plan?.steps ?? [];
  /** @type {import("../api.js").Failure|null} */
  let failure = null;
  let saving = "";
  let timer = 0;
  const may = data.user.role !== "read";
  /** @type {any} */
  let now = record ?? { operated_on: null, steps: [], bones: [], note: "" };
  now = {
    ...now,
    steps: steps.map((/** @type {string} */ words, /** @type {number} */ index) => now.steps.find((/** @type {any} */ s) => s.index === index) ?? { index, words, done: false, at: null, note: "" }),
    bones: (plan?.bones ?? []).map((/** @type {any} */ b) => now.bones.find((/** @type {any} */ d) => d.bone === b.bone) ?? { bone: b.bone, osteotomy_below_joint_mm: null, nail: null, lengthening_mm: null, blocking_screws: null, fibula_osteotomy_above_ankle_mm: null, note: "" }),
  };

  /** @param {any} changed */
  function edit(changed) {
    now = { ...now, ...changed };
    saving = "not saved yet";
    window.clearTimeout(timer);
    timer = window.setTimeout(() => void save(), 900);
    show();
  }
  async function save() {
    window.clearTimeout(timer);
    saving = "saving…";
    show();
    const sent = now;
    try {
      const said = await call("PUT", path, { base_version: version, record: sent, why: "operation recorded" });
      version = said.version;
      against_plan = said.against_plan;
      failure = null;
      saving = sent === now ? "saved" : "not saved yet";
    } catch (error) {
      failure = failureOf(error);
      saving = "not saved";
      if (failure.code === "no-answer") timer = window.setTimeout(() => void save(), 3000);
    }
    show();
  }
  async function takeTheirs() {
    const theirs = await call("GET", path);
    version = theirs.version;
    failure = null;
    await save();
  }

  function show() {
    if (!plan) {
      render(html`<p class="hush">No plan has been accepted yet. <a href="/cases/${encodeURIComponent(data.case_id)}/table">Accept one on the light table</a>; its steps then stand here as a checklist.</p>`, root);
      return;
    }
    const done = now.steps.filter((/** @type {any} */ s) => s.done).length;
    render(
      html`<div class="stack">
        <div class="row">
          <label class="row">Operated on <input id="operated-on" type="date" ?disabled=${!may} .value=${now.operated_on ?? ""} @change=${(/** @type {Event} */ e) => edit({ operated_on: /** @type {HTMLInputElement} */ (e.target).value || null })} /></label>
          <a class="button strong" href="/cases/${encodeURIComponent(data.case_id)}/sheet">Theatre sheet</a>
          <a class="button" href="/api/cases/${encodeURIComponent(data.case_id)}/operation-plan.pdf" target="_blank" rel="noopener">Operation plan (PDF)</a>
          ${now.operated_on ? html`<a class="button" href="/api/cases/${encodeURIComponent(data.case_id)}/calendar.ics?operated_on=${now.operated_on}">Calendar</a>` : nothing}
          <span class="small" role="status">${saving}</span>
        </div>
        ${trouble(failure, failure?.code === "conflict" ? html`<div class="row"><button type="button" @click=${() => void takeTheirs()}>Save mine on top of theirs</button><a class="button" href="">Load theirs</a></div>` : nothing)}
        <div class="two-columns">
          <section class="card" aria-label="Steps"><h2>Steps, ${done} of ${now.steps.length} done</h2>
            <ol class="checklist">${now.steps.map((/** @type {any} */ s) => stepRow(s))}</ol></section>
          <div class="stack">
            ${now.bones.map((/** @type {any} */ b, /** @type {number} */ i) => bonePart(b, i))}
            <section class="card"><label class="field">Note, no names<textarea ?disabled=${!may} maxlength="2000" .value=${now.note} @change=${(/** @type {Event} */ e) => edit({ note: /** @type {HTMLTextAreaElement} */ (e.target).value })}></textarea></label></section>
            ${against_plan.length
              ? html`<section class="card" aria-label="Done against planned"><h2>Done against planned</h2><table>
                  <thead><tr><th scope="col">What</th><th scope="col">Planned</th><th scope="col">Done</th><th scope="col">Difference</th></tr></thead>
                  <tbody>${against_plan.map((/** @type {any} */ r) => html`<tr><th scope="row">${sentence(r.what)}</th><td>${valueWords(r.planned, r.unit)}</td><td>${valueWords(r.done, r.unit)}</td><td>${r.difference}</td></tr>`)}</tbody></table></section>`
              : nothing}
          </div>
        </div>
      </div>`,
      root,
    );
  }

  /** @param {any} s */
  function stepRow(s) {
    const change = (/** @type {any} */ part) => edit({ steps: now.steps.map((/** @type {any} */ t) => (t.index === s.index ? { ...t, ...part } : t)) });
    return html`<li class=${s.done ? "done" : ""}>
      <label><input type="checkbox" ?disabled=${!may} .checked=${s.done} @change=${(/** @type {Event} */ e) => {
        const ticked = /** @type {HTMLInputElement} */ (e.target).checked;
        const clock = new Date();
        change({ done: ticked, at: ticked ? (s.at ?? `${String(clock.getHours()).padStart(2, "0")}:${String(clock.getMinutes()).padStart(2, "0")}`) : null });
      }} /> ${s.words}</label>
      ${s.done ? html`<span class="small quiet">${s.at ?? ""}</span>` : nothing}
    </li>`;
  }

  /** @param {any} b @param {number} i */
  function bonePart(b, i) {
    const planned = plan.bones[i];
    const change = (/** @type {any} */ part) => edit({ bones: now.bones.map((/** @type {any} */ o) => (o.bone === b.bone ? { ...o, ...part } : o)) });
    const number = (/** @type {Event} */ e) => {
      const text = /** @type {HTMLInputElement} */ (e.target).value;
      return text === "" ? null : Number(text);
    };
    const field = (/** @type {string} */ words, /** @type {string} */ key, /** @type {any} */ plan_value) => html`<label class="field">${words} [mm]
      <input type="number" step="0.5" min="0" ?disabled=${!may} data-done=${key} .value=${b[key] === null || b[key] === undefined ? "" : String(b[key])} @change=${(/** @type {Event} */ e) => change({ [key]: number(e) })} />
      <span class="hint">planned ${valueWords(plan_value, "mm")}</span></label>`;
    const screws = b.blocking_screws ?? [];
    return html`<section class="card stack" aria-label="What was really done, ${b.bone}"><h2>${b.bone}: what was really done</h2>
      <div class="bone-fields">
        ${field("Osteotomy below the joint", "osteotomy_below_joint_mm", planned.osteotomy?.below_joint_mm)}
        ${field("Lengthening meant", "lengthening_mm", planned.lengthening_mm)}
        <label class="field wide">Nail put in<input ?disabled=${!may} .value=${b.nail ?? ""} placeholder=${planned.nail?.name ?? ""} @change=${(/** @type {Event} */ e) => change({ nail: /** @type {HTMLInputElement} */ (e.target).value || null })} /><span class="hint">planned ${planned.nail?.name ?? "none"}</span></label>
        ${planned.fibula ? field("Fibular osteotomy above the ankle", "fibula_osteotomy_above_ankle_mm", planned.fibula.osteotomy_above_ankle_mm) : nothing}
      </div>
      <h3>Blocking screws placed</h3>
      ${b.blocking_screws === null ? html`<p class="small quiet">Not recorded yet.</p>` : nothing}
      <ul>${screws.map((/** @type {any} */ s, /** @type {number} */ j) => html`<li class="row small">${s.side}, ${s.fragment}:
        <label><span class="for-readers">screw ${j + 1} from the osteotomy</span><input class="short" type="number" step="0.5" min="0" .value=${String(s.from_osteotomy_mm)} @change=${(/** @type {Event} */ e) => change({ blocking_screws: screws.map((/** @type {any} */ o, /** @type {number} */ k) => (k === j ? { ...o, from_osteotomy_mm: number(e) ?? 0 } : o)) })} /></label> mm from the cut
        <button type="button" class="plain small" @click=${() => change({ blocking_screws: screws.filter((/** @type {any} */ _, /** @type {number} */ k) => k !== j) })}>remove<span class="for-readers"> screw ${j + 1}</span></button></li>`)}</ul>
      <div class="row"><button type="button" class="small" ?disabled=${!may} @click=${() => change({ blocking_screws: (planned.blocking_screws ?? []).map((/** @type {any} */ s) => ({ fragment: s.fragment, side: s.side, from_osteotomy_mm: Math.round(s.from_osteotomy_mm * 10) / 10, diameter_mm: s.diameter_mm })) })}>As planned</button>
        <button type="button" class="small" ?disabled=${!may} @click=${() => change({ blocking_screws: [] })}>None placed</button></div>
    </section>`;
  }

  root.replaceChildren();
  show();
}

/** @param {any} value @param {string} unit */
function valueWords(value, unit) {
  if (value === null || value === undefined) return "–";
  return typeof value === "number" ? `${Math.round(value * 10) / 10} ${unit}` : String(value);
}
