/**
 * Course: where the leg is, where it is heading, what the rules say; a change tried out before it is prescribed.
 * @module
 */
import { call, failureOf } from "../api.js";
import { html, nothing, render } from "../vendor/lit-html/lit-html.js";
import { courseCharts } from "../parts/course_charts.js";
import { diaryList } from "../parts/diary_list.js";
import { findingList, shape, trouble } from "../parts/findings.js";
import { lastDayOf } from "../models/chart_axes.js";
import { isTyping } from "../parts/keys.js";
import { amountWords, fixed, sentence, whenWords } from "../models/wording.js";

/** What can be tried: its words, its number with unit, and what the API calls it. */
const CHANGES = [
  { kind: "rate", words: "another rate", key: "rate_mm_per_day", unit: "mm a day", usual: 0.5, step: 0.05, least: 0.05 },
  { kind: "hold", words: "a rest of", key: "days", unit: "days", usual: 7, step: 1, least: 1 },
  { kind: "reverse", words: "shorten by", key: "back_mm", unit: "mm", usual: 3, step: 0.25, least: 0.25 },
  { kind: "accordion", words: "shorter and longer in turn, each", key: "turn_days", unit: "days", usual: 5, step: 1, least: 1 },
  { kind: "continue", words: "go on from what is really there", key: "", unit: "", usual: 0, step: 1, least: 0 },
  { kind: "end", words: "end here, a lesser goal", key: "", unit: "", usual: 0, step: 1, least: 0 },
];
const MARKS = { keep: "note", slow: "caution", quicken: "caution", hold: "stop", reverse: "stop" };

/** @param {any} data @param {HTMLElement} root */
export function start(data, root) {
  const id = encodeURIComponent(data.case_id);
  const page = `/cases/${id}/course`;
  let course = data.course;
  let bones = course.outlook?.bones ?? [];
  const state = {
    /** @type {"lengthening"|"healing"} */
    reach: bones.some((/** @type {any} */ b) => b.lengthening) ? "lengthening" : "healing",
    bone: bones[0]?.bone ?? "",
    change: CHANGES[0],
    number: CHANGES[0].usual,
    reason: "",
    language: data.languages[0],
    telephone: "",
    /** @type {any} */
    tried: null,
    /** @type {import("../api.js").Failure|null} */
    failure: null,
    busy: false,
  };

  const asked = () => ({
    bone: state.bone,
    on: course.on,
    change: { kind: state.change.kind, ...(state.change.key ? { [state.change.key]: state.number } : {}) },
  });
  /** @param {() => Promise<any>} work */
  async function doing(work) {
    state.busy = true;
    state.failure = null;
    show();
    try {
      await work();
    } catch (error) {
      state.failure = failureOf(error);
    }
    state.busy = false;
    show();
  }
  const tryIt = () => doing(async () => void (state.tried = await call("POST", `/api/cases/${id}/course/what-if`, asked())));
  /** @param {string} bone @param {string} day @param {number|null} steps */
  const tick = (bone, day, steps) =>
    doing(async () => {
      await call("POST", `/api/cases/${id}/course/diary`, { base_version: course.version, bone, days: [{ on: day, steps }] });
      course = await call("GET", `/api/cases/${id}/course?on=${course.on}`);
      bones = course.outlook?.bones ?? [];
      state.tried = null;
    });
  const prescribe = () =>
    doing(async () => {
      await call("POST", `/api/cases/${id}/course/prescription`, { ...asked(), base_version: course.version, reason: state.reason });
      window.location.assign(`${page}?on=${course.on}`);
    });

  function show() {
    const rem = Number.parseFloat(getComputedStyle(document.documentElement).fontSize);
    const grid = root.clientWidth || 1200;
    const narrow = window.matchMedia("(max-width: 60rem)").matches;
    const side = narrow ? 0 : Math.min(Math.max(23 * rem, 0.31 * window.innerWidth), 38 * rem) + 1.15 * rem;
    const wide = Math.floor(grid - side - 2 * 0.86 * rem - 2);
    const high = Math.max(5.2 * rem, (window.innerHeight - 20.5 * rem) / 4);
    render(html`${head()}${trouble(state.failure)}${course.outlook ? body(wide, rem, high) : nothingYet()}`, root);
  }

  function head() {
    const days = course.visits.map((/** @type {any} */ v) => v.seen_on);
    const before = days.filter((/** @type {string} */ d) => d < course.on).pop();
    const after = days.find((/** @type {string} */ d) => d > course.on);
    return html`<div class="course-head">
      <h1>Course</h1>
      ${course.on
        ? html`<span class="row">
            ${before ? html`<a class="button" id="visit-before" href="${page}?on=${before}" title="visit before ([)">‹<span class="for-readers"> visit before</span></a>` : nothing}
            <label class="row">As of <input id="on" type="date" .value=${course.on} @change=${(/** @type {Event} */ e) => window.location.assign(`${page}?on=${/** @type {HTMLInputElement} */ (e.target).value}`)} /></label>
            ${after ? html`<a class="button" id="visit-after" href="${page}?on=${after}" title="visit after (])">›<span class="for-readers"> visit after</span></a>` : nothing}
            ${course.on !== data.day ? html`<a href="${page}?on=${data.day}">today</a>` : nothing}
          </span>`
        : nothing}
      ${course.on ? html`<a class="button strong" id="record-visit" href="/cases/${id}/visit">Record a visit</a>` : nothing}
      <a class="button" href="/cases/${id}/outcome">Outcome</a>
    </div>`;
  }

  function nothingYet() {
    return html`<p class="hush">${course.absent
      ? html`${sentence(course.absent.found)} ${course.absent.next}`
      : html`No operation is recorded yet. <a href="/cases/${id}/operation">Record its day on the operation page</a>; the prescription then starts by itself.`}</p>`;
  }

  /** @param {number} wide @param {number} rem @param {number} high */
  function body(wide, rem, high) {
    return html`<div class="course-grid">
      <div class="stack">
        ${course.charts.map(
          (/** @type {any} */ bone) => html`<section aria-label="Charts, ${bone.bone}">
            <div class="row apart"><h2>${bone.bone}</h2><div class="row" role="group" aria-label="Days shown">
              ${/** @type {const} */ (["lengthening", "healing"]).map((reach) => html`<button type="button" class="small" aria-pressed=${state.reach === reach ? "true" : "false"} @click=${() => { state.reach = reach; show(); }}>to ${reach === "healing" ? "healing" : "the end of lengthening"}</button>`)}
            </div></div>
            ${courseCharts({ bone, films: course.films, lastDay: lastDayOf(bone, state.reach), wide, rem, high, page, on: course.on })}
          </section>`,
        )}
        ${bones.map((/** @type {any} */ b) => visitTable(b))}
        ${course.charts.map((/** @type {any} */ c) => diaryList({ bone: c.bone, doses: c.doses, may: data.user.role !== "read", write: (day, steps) => void tick(c.bone, day, steps) }))}
      </div>
      <div class="stack">
        ${bones.map((/** @type {any} */ b) => boneCard(b))}
        <section class="card" aria-label="Findings"><h2>Findings</h2>${findingList(course.outlook.findings)}</section>
        ${whatIf()}
        ${handedOut()}
      </div>
    </div>`;
  }

  /** @param {any} b */
  function boneCard(b) {
    const est = b.length.estimated;
    const weight = b.weight;
    const kg = weight.limit_kg === null ? "no limit known" : `up to ${fixed(weight.limit_kg, 1)} kg (${fixed(weight.limit_lb, 0)} lb)`;
    return html`<section class="card pace" data-bone=${b.bone} aria-label="Advice, ${b.bone}">
      <p><strong>${sentence(b.bone)}, day ${b.day}</strong>: ${fixed(est.mm, 1)} ± ${fixed(1.96 * est.sd_mm, 1)} mm of ${fixed(b.target_mm, 0)} mm${b.lengthening ? `, ${b.rate_mm_per_day} mm a day` : ", lengthening ended"}</p>
      <p class="pace-word ${b.advice.pace}" data-pace=${b.advice.pace}>${shape(b.lengthening ? MARKS[/** @type {keyof typeof MARKS} */ (b.advice.pace)] : "note")} ${b.lengthening || b.advice.pace !== "keep" ? `The rules say: ${b.advice.pace}` : "No more doses: consolidation"}</p>
      <dl class="pairs">
        ${b.lengthening ? html`<dt>target reached</dt><dd>${rangeWords(b.target_day)}</dd>` : nothing}
        ${b.drift.map((/** @type {any} */ d) => html`<dt>${d.projection}${b.lengthening ? ", now → at full length" : " film"}</dt><dd>${amountWords(d.now)}${b.lengthening ? ` → ${amountWords(d.at_full_length)}` : ""} ± ${fixed(1.96 * (b.lengthening ? d.at_full_length : d.now).sd_deg, 1)}°</dd>
          ${b.lengthening && d.crosses_limit.likely_50_percent ? html`<dt>${d.limit_deg}° passed about</dt><dd>${dayWords(d.crosses_limit.likely_50_percent)}</dd>` : nothing}`)}
        <dt>healed</dt><dd>${rangeWords(b.healed_day)}</dd>
        <dt>weight on the leg</dt><dd>${weight.step === "full" ? "full weight can be considered" : weight.step === "more" ? `${kg}; more can be considered` : kg}</dd>
      </dl>
    </section>`;
  }

  /** @param {any} b */
  function visitTable(b) {
    if (!b.history.length) return html`<p class="hush">No visit yet. Record one, by keyboard, in about two minutes.</p>`;
    return html`<section class="card" aria-label="Visits, ${b.bone}"><h2>What the rules said at each visit, ${b.bone}</h2>
      <table class="compact"><thead><tr><th scope="col">Visit</th><th scope="col">Rules said</th><th scope="col">Found</th><td></td></tr></thead>
      <tbody>${b.history.map((/** @type {any} */ h) => html`<tr><th scope="row"><a href="${page}?on=${h.on}">${whenWords(h.on)}</a></th><td>${h.pace}</td>
        <td>${h.findings.filter((/** @type {string} */ f) => !f.startsWith("advice-")).map((/** @type {string} */ f) => f.replaceAll("-", " ")).join(", ") || "nothing to weigh"}</td>
        <td><a href="/cases/${id}/visit?on=${h.on}">change<span class="for-readers"> visit of ${h.on}</span></a></td></tr>`)}</tbody></table></section>`;
  }

  function whatIf() {
    const going = bones.filter((/** @type {any} */ b) => b.lengthening);
    if (!going.length) return nothing;
    const c = state.change;
    const t = state.tried;
    const now = bones.find((/** @type {any} */ b) => b.bone === state.bone);
    return html`<section class="card stack tight" aria-label="What if"><h2>What if, from tomorrow on</h2>
      <div class="try-line">
        <label class="field">Change<select id="change" @change=${(/** @type {Event} */ e) => {
          state.change = CHANGES[/** @type {HTMLSelectElement} */ (e.target).selectedIndex];
          state.number = state.change.usual;
          state.tried = null;
          show();
        }}>${CHANGES.map((k) => html`<option ?selected=${k === c}>${k.words}</option>`)}</select></label>
        ${c.key ? html`<label class="field">${c.unit}<input id="change-number" type="number" step=${c.step} min=${c.least} .value=${String(state.number)} @input=${(/** @type {Event} */ e) => { state.number = Number(/** @type {HTMLInputElement} */ (e.target).value); state.tried = null; show(); }} /></label>` : html`<span></span>`}
        <button type="button" id="try" ?disabled=${state.busy} @click=${() => void tryIt()}>Try</button>
      </div>
      ${going.length > 1 ? html`<label class="field">Bone<select @change=${(/** @type {Event} */ e) => { state.bone = /** @type {HTMLSelectElement} */ (e.target).value; state.tried = null; show(); }}>${going.map((/** @type {any} */ b) => html`<option ?selected=${b.bone === state.bone}>${b.bone}</option>`)}</select></label>` : nothing}
      ${t
        ? html`<table class="compact" id="tried"><thead><tr><td></td><th scope="col">as prescribed</th><th scope="col">tried</th></tr></thead><tbody>
            <tr><th scope="row">target reached</th><td>${rangeWords(now.target_day)}</td><td>${rangeWords(t.target_day)}</td></tr>
            <tr><th scope="row">healed</th><td>${rangeWords(now.healed_day)}</td><td>${rangeWords(t.healed_day)}</td></tr>
            ${t.drift.map((/** @type {any} */ d, /** @type {number} */ i) => html`<tr><th scope="row">${d.projection}, ${d.limit_deg}° passed</th><td>${crossWords(now.drift[i])}</td><td>${crossWords(d)}</td></tr>`)}
          </tbody></table>
          ${t.findings.length ? findingList(t.findings) : nothing}
          ${data.user.role === "sign"
            ? html`<label class="field">Reason, no names<input id="reason" maxlength="500" .value=${state.reason} @input=${(/** @type {Event} */ e) => (state.reason = /** @type {HTMLInputElement} */ (e.target).value)} /></label>
                <button type="button" class="strong" id="prescribe" ?disabled=${state.busy} @click=${() => void prescribe()}>Prescribe this from tomorrow on</button>`
            : html`<p class="small quiet">Prescribing needs the role 'sign'.</p>`}`
        : html`<p class="small quiet">Nothing is changed by trying.</p>`}
    </section>`;
  }

  function handedOut() {
    const query = `on=${course.on}&language=${state.language}`;
    return html`<section class="card stack tight" aria-label="For the patient"><h2>For the patient</h2>
      <div class="row">
        <label class="row">Language <select id="language" @change=${(/** @type {Event} */ e) => { state.language = /** @type {HTMLSelectElement} */ (e.target).value; show(); }}>${data.languages.map((/** @type {string} */ l) => html`<option ?selected=${l === state.language}>${l}</option>`)}</select></label>
        <label class="row">Telephone <input id="telephone" class="short" maxlength="40" .value=${state.telephone} @input=${(/** @type {Event} */ e) => { state.telephone = /** @type {HTMLInputElement} */ (e.target).value; show(); }} /></label>
      </div>
      <div class="row">
        <a class="button" href="/api/cases/${id}/patient-sheet.pdf?${query}&telephone=${encodeURIComponent(state.telephone)}" target="_blank" rel="noopener">Patient sheet (PDF)</a>
        <a class="button" href="/api/cases/${id}/diary.pdf?${query}" target="_blank" rel="noopener">Diary (PDF)</a>
        <a class="button" href="/api/cases/${id}/calendar.ics?language=${state.language}">Calendar</a>
        ${data.document.case.course?.treatments.some((/** @type {any} */ t) => t.amendments?.length) ? html`<a class="button" href="/api/cases/${id}/calendar.ics?language=${state.language}&cancelled=true">Calendar: dropped entries</a>` : nothing}
      </div></section>`;
  }

  document.addEventListener("keydown", (event) => {
    if (isTyping(event) || event.ctrlKey || event.metaKey || event.altKey || document.querySelector("dialog[open]")) return;
    const link = { "[": "#visit-before", "]": "#visit-after", v: "#record-visit" }[event.key];
    const there = link ? /** @type {HTMLAnchorElement|null} */ (document.querySelector(link)) : null;
    if (!there) return;
    event.preventDefault();
    there.click();
  });
  root.replaceChildren();
  new ResizeObserver(() => window.requestAnimationFrame(show)).observe(document.documentElement);
  show();
}

/** @param {any} day */
function dayWords(day) {
  return day ? `day ${day.day}, ${whenWords(day.on)}` : "–";
}

/** @param {any} range */
function rangeWords(range) {
  if (!range.likely) return range.early ? `not likely; day ${range.early.day} at the earliest` : "not foreseen";
  return html`${dayWords(range.likely)} <span class="quiet">(${range.early?.day ?? "?"} to ${range.late?.day ?? "later"})</span>`;
}

/** @param {any} d */
function crossWords(d) {
  return d.crosses_limit.likely_50_percent ? dayWords(d.crosses_limit.likely_50_percent) : `not likely (${fixed(d.beyond_limit_at_full_length_percent, 0)} %)`;
}
