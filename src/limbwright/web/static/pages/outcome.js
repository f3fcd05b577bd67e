/**
 * Outcome: planned against achieved; the days that close a course, adverse events and scores, saved as one version.
 * @module
 */
import { call, failureOf } from "../api.js";
import { html, nothing, render } from "../vendor/lit-html/lit-html.js";
import { findingList, trouble } from "../parts/findings.js";
import { amountWords, fixed, sentence, whenWords } from "../models/wording.js";

const DAYS = [
  ["consolidated_on", "called consolidated"],
  ["full_weight_on", "full weight from"],
  ["nail_removed_on", "nail removed"],
];

/** @param {any} data @param {HTMLElement} root */
export function start(data, root) {
  const id = encodeURIComponent(data.case_id);
  let { document: kept, outcome } = data;
  /** @type {import("../api.js").Failure|null} */
  let failure = null;
  let saving = "";
  const may = data.user.role !== "read";
  root.replaceChildren();
  if (!outcome) {
    render(html`<p class="hush">No operation is recorded yet. <a href="/cases/${id}/operation">Record its day on the operation page</a>.</p>`, root);
    return;
  }

  /** Save the case with a changed course on top of the version that is shown. @param {(course: any) => any} change @param {string} why */
  async function save(change, why) {
    saving = "saving…";
    failure = null;
    show();
    try {
      const document = { ...kept.case, course: change(kept.case.course) };
      await call("PUT", `/api/cases/${id}`, { base_version: kept.version, case: document, why });
      kept = await call("GET", `/api/cases/${id}`);
      outcome = (await call("GET", `/api/cases/${id}/outcome`)).outcome;
      saving = `saved, version ${kept.version}`;
    } catch (error) {
      failure = failureOf(error);
      saving = "not saved";
    }
    show();
  }
  /** @param {any} value @param {string} key @param {string|null} day */
  const withDay = (value, key, day) => {
    const { [key]: _, ...rest } = value;
    return day ? { ...rest, [key]: day } : rest;
  };

  /** @param {any} b */
  function bonePart(b) {
    const t = kept.case.course.treatments.find((/** @type {any} */ one) => one.prescription.bone === b.bone);
    const rows = [
      ["length", `${fixed(b.planned_mm, 0)} mm`, b.achieved ? `${fixed(b.achieved.mm, 1)} ± ${fixed(1.96 * b.achieved.sd_mm, 1)} mm` : "not read"],
      ["accuracy of length", "", percent(b.accuracy_percent)],
      ["precision from film to film", "", percent(b.precision_percent)],
      ["angulation, frontal film", "none", b.frontal ? amountWords(b.frontal) : "not read"],
      ["angulation, sagittal film", "none", b.sagittal ? amountWords(b.sagittal) : "not read"],
      ...b.joint_angles.map((/** @type {any} */ a) => [`${a.measure}, follow-up film`, a.first_deg === null ? "" : `${fixed(a.first_deg, 1)}° after the operation`, `${fixed(a.end_deg, 1)} ± ${fixed(1.96 * a.sd_deg, 1)}°`]),
      ["healing index", "", index(b.healing_index_days_per_cm)],
      ["distraction index", "", index(b.distraction_index_days_per_cm)],
      ["maturation index", "", index(b.maturation_index_days_per_cm)],
    ];
    return html`<section class="card stack" data-bone=${b.bone} aria-label="Outcome, ${b.bone}"><h2>${b.bone}</h2>
      <table class="compact"><thead><tr><td></td><th scope="col">planned</th><th scope="col">achieved</th></tr></thead>
        <tbody>${rows.map(([what, plan, end]) => html`<tr><th scope="row">${sentence(what)}</th><td>${plan}</td><td>${end}</td></tr>`)}</tbody></table>
      <table class="compact"><thead><tr><th scope="col">Joint motion</th><th scope="col">before</th><th scope="col">last visit</th><th scope="col">change</th></tr></thead>
        <tbody>${b.motion.map((/** @type {any} */ m) => html`<tr><th scope="row">${sentence(m.name)}</th><td>${degrees(m.before_deg)}</td><td>${degrees(m.end_deg)}</td><td>${lost(m.lost_deg)}</td></tr>`)}</tbody></table>
      <div class="row">${DAYS.map(([key, words]) => html`<label class="field">${sentence(words)}<input type="date" data-day=${key} ?disabled=${!may} .value=${t[key] ?? ""} @change=${(/** @type {Event} */ e) => {
        const day = /** @type {HTMLInputElement} */ (e.target).value || null;
        void save((course) => ({ ...course, treatments: course.treatments.map((/** @type {any} */ one) => (one.prescription.bone === b.bone ? withDay(one, key, day) : one)) }), `${words}: ${day ?? "taken back"}`);
      }} /></label>`)}</div>
      ${findingList(b.findings, "Nothing to weigh.")}
    </section>`;
  }

  function events() {
    const course = kept.case.course;
    return html`<section class="card stack" aria-label="Adverse events"><h2>Problems, obstacles, complications</h2>
      ${outcome.events.length
        ? html`<table class="compact"><thead><tr><th scope="col">Seen on</th><th scope="col">What</th><th scope="col">Done about it</th><th scope="col">Resolved</th><th scope="col">Class</th><td></td></tr></thead>
          <tbody>${outcome.events.map((/** @type {any} */ e, /** @type {number} */ i) => html`<tr><td>${whenWords(e.seen_on)}</td><td>${e.kind}${e.bone ? `, ${e.bone}` : ""}</td><td>${e.remedy_words || e.remedy}</td><td>${e.resolved_on ? whenWords(e.resolved_on) : "no"}</td><td>${e.class}</td>
            <td>${may ? html`<button type="button" class="plain small" @click=${() => void save((c) => ({ ...c, complications: c.complications.filter((/** @type {any} */ _, /** @type {number} */ k) => k !== i) }), `${e.kind} taken out`)}>remove<span class="for-readers"> ${e.kind}</span></button>` : nothing}</td></tr>`)}</tbody></table>`
        : html`<p class="quiet">None recorded.</p>`}
      ${may
        ? html`<form class="patient-fields" id="event" @submit=${(/** @type {SubmitEvent} */ e) => {
            e.preventDefault();
            const form = /** @type {HTMLFormElement} */ (e.target);
            const said = Object.fromEntries([...new FormData(form)].filter(([, v]) => v !== ""));
            const event = { ...said, interferes_with_goal: said.interferes_with_goal === "on" };
            void save((c) => ({ ...c, complications: [...(c.complications ?? []), event] }), `${said.kind} recorded`).then(() => failure || form.reset());
          }}>
          <label class="field">What happened<select name="kind">${data.choices.kind.map((/** @type {string} */ k) => html`<option>${k}</option>`)}</select></label>
          <label class="field">Seen first on<input type="date" name="seen_on" required /></label>
          <label class="field">Bone<select name="bone"><option value="">whole leg</option>${course.treatments.map((/** @type {any} */ t) => html`<option>${t.prescription.bone}</option>`)}</select></label>
          <label class="field">Most that was done<select name="remedy">${data.choices.remedy.map((/** @type {string} */ k) => html`<option>${k}</option>`)}</select></label>
          <label class="field">In words, no names<input name="remedy_words" maxlength="300" /></label>
          <label class="field">Resolved on<input type="date" name="resolved_on" /></label>
          <label><input type="checkbox" name="interferes_with_goal" /> keeps the goal from being reached, or lasting harm</label>
          <button>Add the event</button></form>`
        : nothing}
    </section>`;
  }

  function scores() {
    return html`<section class="card stack" aria-label="Scores"><h2>Patient-reported scores</h2>
      ${outcome.scores.length ? html`<table class="compact"><thead><tr><th scope="col">Name</th><th scope="col">On</th><th scope="col">Result</th><th scope="col">Scale, worst to best</th></tr></thead><tbody>${outcome.scores.map((/** @type {any} */ s) => html`<tr><th scope="row">${s.name}</th><td>${whenWords(s.on)}</td><td>${s.value}</td><td>${s.worst} to ${s.best}</td></tr>`)}</tbody></table>` : html`<p class="quiet">None recorded.</p>`}
      ${may
        ? html`<form class="patient-fields" id="score" @submit=${(/** @type {SubmitEvent} */ e) => {
            e.preventDefault();
            const form = /** @type {HTMLFormElement} */ (e.target);
            const said = Object.fromEntries(new FormData(form));
            const score = { name: said.name, on: said.on, value: Number(said.value), worst: Number(said.worst), best: Number(said.best) };
            void save((c) => ({ ...c, scores: [...(c.scores ?? []), score] }), `${said.name} recorded`).then(() => failure || form.reset());
          }}>
          <label class="field">Name<input name="name" required maxlength="80" /></label><label class="field">On<input type="date" name="on" required /></label>
          <label class="field">Result<input type="number" step="any" name="value" required /></label><label class="field">Worst possible<input type="number" step="any" name="worst" required value="0" /></label><label class="field">Best possible<input type="number" step="any" name="best" required value="100" /></label>
          <button>Add the score</button></form>`
        : nothing}
    </section>`;
  }

  function show() {
    const counts = Object.entries(outcome.counts);
    render(
      html`<div class="stack">
        <div class="row">
          <a class="button strong" href="/api/cases/${id}/closing-letter.pdf" target="_blank" rel="noopener">${kept.case.course.ended_on ? "Closing" : "Interim"} letter (PDF)</a>
          <a class="button" href="/api/cases/${id}/outcome" target="_blank" rel="noopener">Outcome as JSON</a>
          <label class="row">Treatment ended on <input id="ended-on" type="date" ?disabled=${!may} .value=${kept.case.course.ended_on ?? ""} @change=${(/** @type {Event} */ e) => {
            const day = /** @type {HTMLInputElement} */ (e.target).value || null;
            void save((course) => withDay(course, "ended_on", day), `end of treatment: ${day ?? "taken back"}`);
          }} /></label>
          <span class="small" role="status">${saving}</span>
          <span class="quiet">${counts.map(([what, n]) => `${n} ${what}`).join(", ")}</span>
        </div>
        ${trouble(failure, failure?.code === "conflict" ? html`<a class="button" href="">Load theirs</a>` : nothing)}
        <div class="two-columns"><div class="stack">${outcome.bones.map(bonePart)}</div><div class="stack">${events()}${scores()}</div></div>
      </div>`,
      root,
    );
  }
  show();
}

/** @param {number|null} v */
const percent = (v) => (v === null ? "not known" : `${fixed(v, 0)} %`);
/** @param {number|null} v */
const index = (v) => (v === null ? "not known" : `${fixed(v, 0)} days/cm`);
/** @param {number|null} v */
const degrees = (v) => (v === null ? "not examined" : `${fixed(v, 0)}°`);
/** @param {number|null} v */
const lost = (v) => (v === null ? "–" : v === 0 ? "as before" : `${fixed(Math.abs(v), 0)}° ${v > 0 ? "worse" : "better"}`);
