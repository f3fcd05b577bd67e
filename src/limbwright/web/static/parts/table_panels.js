/**
 * The page around the films: bars, strip, right-hand panels, candidates. Draws from the table's state; keeps none.
 * @module
 */
import { html, nothing, render } from "../vendor/lit-html/lit-html.js";
import { driftWords } from "../models/drift.js";
import { instantWords } from "../models/time_axis.js";
import { sentence } from "../models/wording.js";
import { withPart } from "../models/case_edit.js";
import { acceptPanel, acceptPlan } from "./accept_panel.js";
import { candidateRow, compareCandidates } from "./candidate_row.js";
import { casePanel } from "./case_panel.js";
import { findingGroups, gathered, trouble } from "./findings.js";
import { landmarkGuide } from "./landmark_guide.js";
import { ledger } from "./ledger.js";
import { apexes, cutFaces, driftPart, inShort, insidePart, measureAgain } from "./ledger_parts.js";
import { lookPanel } from "./look_panel.js";
import { planPanel } from "./plan_panel.js";
import { acrossSign } from "./table_scene.js";
import { timeStrip } from "./time_strip.js";
import { tracingNow, wallList } from "./tracing_part.js";

/** @typedef {import("../pages/table.js").LightTable} Table */

const TABS = /** @type {const} */ ([
  ["ledger", "Ledger"],
  ["landmarks", "Landmarks"],
  ["case", "Case"],
  ["plan", "Plan"],
  ["accept", "Accept"],
  ["look", "Look"],
]);

/** Panels that change the case. @type {Set<string>} */
const CHANGING = new Set(["landmarks", "case", "plan"]);

/** What to weigh; while a hand drags, the geometry's findings are those of where it is. @param {Table} table */
export function findingsOf(table) {
  const found = table.work.answer?.findings ?? [];
  const live = table.pulling.reply?.findings;
  if (!live) return gathered(found);
  return gathered(found.filter((/** @type {any} */ f) => !live.renewed.includes(f.id)), live.now);
}

/** @param {Table} table */
export function renderTable(table) {
  render(page(table), table.root);
  const save = document.querySelector("#save-state");
  if (save) render(saveState(table), /** @type {HTMLElement} */ (save));
}

/** @param {Table} table */
function page(table) {
  return html`
    <div class="films" role="group" aria-label="Films">
      ${pane(table, "frontal")} ${pane(table, "sagittal")}
    </div>
    <section class="strip" aria-label="Time strip">
      <div class="film-tools">
        <button type="button" class="small" @click=${() => table.fit(null)}>Whole leg</button>
        ${table.work.bones.map((/** @type {any} */ b) => html`<button type="button" class="small" @click=${() => table.fit(b.bone)}>${sentence(b.bone)}</button>`)}
        <button type="button" class="small" ?disabled=${!table.work.history.past.length} title=${table.work.history.past.at(-1)?.words ?? "nothing to undo"} @click=${() => table.work.undo()}>Undo</button>
        <button type="button" class="small" ?disabled=${!table.work.history.future.length} title=${table.work.history.future[0]?.words ?? "nothing to redo"} @click=${() => table.work.redo()}>Redo</button>
      </div>
      ${strip(table)}
    </section>
    <aside class="panel" aria-label="Findings, ledger and plan">
      <div class="tabs" role="tablist" aria-label="Panels">
        ${TABS.map(
          ([key, words]) => html`<button type="button" role="tab" id="tab-${key}" aria-controls="panel" aria-selected=${table.tab === key ? "true" : "false"} tabindex=${table.tab === key ? 0 : -1}
            @click=${() => openTab(table, key)} @keydown=${(/** @type {KeyboardEvent} */ e) => tabKey(table, e)}>${words}</button>`,
        )}
      </div>
      <div class="panel-body" role="tabpanel" id="panel" aria-labelledby="tab-${table.tab}" tabindex="0">${CHANGING.has(table.tab) && !table.may ? html`<p class="hush">You may read this case; changing it needs the role that plans.</p><fieldset class="bare" disabled>${body(table)}</fieldset>` : body(table)}</div>
    </aside>
    <section class="candidate-bar ${table.show_candidates && (firstAnswerComes(table) || table.work.answer?.plan) ? "open" : ""}" aria-label="Candidates">${candidates(table)}</section>
    <p class="for-readers" role="status">${table.says}</p>
  `;
}

/** @param {Table} table @param {"frontal"|"sagittal"} projection */
function pane(table, projection) {
  const shown = table.shown(projection);
  const zoom = table.view.zoom;
  const scale = shown?.scale;
  const uncertain = scale ? `scale ±${(scale.relative_sd * 196).toFixed(1)} %` : "no scale: mm are not known";
  return html`<div class="pane">
    <div class="pane-bar"><strong>${sentence(projection)}</strong>
      ${shown ? html`${shown.name === projection ? nothing : html`<span>${shown.name}</span>`}<span>1 mm = ${zoom.toFixed(1)} px</span><span title=${scale ? `from ${scale.method}, 95 % of the time` : "mark the calibration ball"}>${uncertain}</span>` : nothing}</div>
    <div class="pane-film" data-pane=${projection} tabindex=${shown ? 0 : -1} role="group"
      aria-label="${projection} film${table.wordsToPlace(projection) ? `: mark the ${table.wordsToPlace(projection)}` : ""}"></div>
    ${table.film_troubles.has(shown?.name ?? "") ? html`<div class="pane-empty">${trouble(table.film_troubles.get(shown?.name ?? ""))}</div>` : nothing}
    ${shown ? nothing : html`<p class="pane-empty">No ${projection} film in this case. ${projection === "sagittal" ? "Without it the sagittal plane is not planned. " : ""}<button type="button" class="small" @click=${() => openTab(table, "case")}>Add one</button></p>`}
  </div>`;
}

/** @param {Table} table */
function strip(table) {
  const { days, days_trouble, computing, answer } = table.work;
  if (!days) {
    if (days_trouble) return trouble(days_trouble);
    return html`<p class="strip-empty ${computing ? "waiting" : ""}">${computing && !answer ? "Measuring and planning…" : answer?.plan ? "Working out every day of the course…" : "The time strip begins when there is a plan."}</p>`;
  }
  const rem = parseFloat(getComputedStyle(document.documentElement).fontSize);
  const wide = table.root.querySelector(".strip")?.clientWidth ?? 900;
  return html`<div class="strip-head"><strong>${sentence(instantWords(table.instant, days.axis, days.moments))}</strong>
    </div>
    ${timeStrip({ days, drift: table.work.drift, course: answer?.course ?? [], instant: table.instant, wide, rem, seek: (i) => table.seek(i) })}
    <p class="strip-note small">${driftNote(table)}</p>`;
}

/** What is expected by the day shown, or why nothing is said. @param {Table} table */
function driftNote(table) {
  const { drift, drift_trouble, days } = table.work;
  if (drift_trouble) return html`<span class="quiet">Drift: ${drift_trouble.found}</span>`;
  if (!drift) return html`<span class="quiet waiting">Drift is being forecast…</span>`;
  if (drift.drift_absent) return html`<span class="quiet">Drift: ${drift.drift_absent.found}</span>`;
  const day = table.instant.correction < 1 ? days.axis.last_day : table.instant.day;
  const words = driftWords(drift, day);
  return html`<span class="forecast-words">▒ expected drift${table.instant.correction < 1 ? " in the end" : ""}: ${words.length ? words.join(", ") : "none yet"}</span> <br /><span class="quiet">by the model, not validated clinically; what it rests on stands in the ledger</span>`;
}

/** @param {Table} table @param {Table["tab"]} key */
export function openTab(table, key) {
  table.tab = key;
  if (key === "landmarks") table.hidden.delete("landmark");
  else if (table.placing.active || table.tracing.active) table.place(null);
  if (key !== "case") table.scaling.stop();
  table.paint();
  table.root.querySelector("#panel")?.scrollTo(0, 0);
  /** @type {HTMLElement|null} */ (table.root.querySelector(`#tab-${key}`))?.focus({ preventScroll: true });
}

/** @param {Table} table @param {KeyboardEvent} event */
function tabKey(table, event) {
  const step = event.key === "ArrowRight" ? 1 : event.key === "ArrowLeft" ? -1 : 0;
  if (!step) return;
  event.preventDefault();
  event.stopPropagation();
  const at = TABS.findIndex(([key]) => key === table.tab);
  openTab(table, TABS[(at + step + TABS.length) % TABS.length][0]);
}

/** @param {Table} table */
function body(table) {
  const { work } = table;
  const failed = trouble(work.answer_trouble, html`<button type="button" @click=${() => work.recompute()}>Try again</button>`);
  const recovered = work.recovered && work.saving !== "saved" ? html`<p class="hush">Changes that had not been saved were kept in this window and are put back.</p>` : nothing;
  switch (table.tab) {
    case "landmarks":
      return html`${failed}${landmarkGuide({
        tasks: table.tasks,
        placing: table.tracing.now?.task ?? table.placing.task,
        needed_only: table.placing.needed_only,
        choose: (t, needed_only = false) => {
          table.placing.needed_only = needed_only;
          table.place(t);
        },
        hand: table.placing,
        tracing: tracingNow(table),
        remove: (t) => work.change({ kind: "landmark", film: t.film, side: t.side, landmark: t.landmark, x_px: null, y_px: null }, `${t.words} removed`),
        mirrored: (t) => mirrored(table, t),
      })}${wallList(table)}`;
    case "case":
      return html`${failed}${casePanel({
        document_case: table.document,
        films: table.filmsShown.map((f) => ({ projection: f.projection, name: f.shown.name, scale: f.shown.scale })),
        scaling: table.scaling,
        more: table.more_films,
        edit: (part, changes, words) => work.edit(withPart(work.draft, part, changes), words),
      })}`;
    case "plan":
      return html`${failed}${planPanel({
        answer: { ...work.answer, plan: work.answer?.plan && { ...work.answer.plan, bones: table.bonesNow } },
        alterations: work.draft.alterations,
        offer: table.pulling.reply?.nail_offer ? { ...table.pulling.reply.nail_offer, bone: table.pulling.now?.change?.bone } : null,
        change: (c, words) => work.change(c, words),
        goal: (g, words) => table.goal(g, words),
        goal_now: work.draft.case.goal,
      })}`;
    case "accept":
      return html`${failed}${acceptPanel({
        id: work.id,
        stops: findingsOf(table).filter((f) => f.severity === "stop"),
        reasons: table.reasons,
        acceptance: work.acceptance,
        later: work.dirty || (work.acceptance && work.version > work.acceptance.of_version + 1),
        plan: Boolean(work.answer?.plan),
        saved: !work.dirty,
        may: table.data.user.role === "sign",
        failure: table.accept_trouble,
        busy: table.accepting || work.computing,
        accept: () => void acceptPlan(table),
        typed: (f, reason) => {
          table.reasons.set(f.id + f.words, reason);
          table.paint();
        },
      })}`;
    case "look":
      return lookPanel({
        film: table.filmsShown[0]?.shown.header,
        look: table.look,
        setLook: (look) => {
          table.look = look;
          table.paint();
        },
        hidden: table.hidden,
        setHidden: (kinds, hide) => {
          for (const kind of kinds) hide ? table.hidden.add(kind) : table.hidden.delete(kind);
          table.paint();
        },
      });
    default:
      return html`${failed}${recovered}${ledgerBody(table)}`;
  }
}

/** A figure has lateral or anterior to the right; on the film it may lie to the left. @param {Table} table @param {any} task */
function mirrored(table, task) {
  const film = table.document.films.find((/** @type {any} */ f) => f.name === task.film);
  if (task.projection === "sagittal") return film?.anterior_at === "viewer left";
  return (film?.right_side_at === "viewer left") === (task.side === "right");
}

/** @param {Table} table */
function ledgerBody(table) {
  const { answer, computing } = table.work;
  if (!answer) return computing ? html`<p class="quiet waiting">Measuring and planning…</p>` : nothing;
  const findings = findingsOf(table);
  const { reply } = table.pulling;
  const seen = merged(answer.measured?.treated?.readings ?? [], reply?.lines ? (reply.readings ?? []).filter((/** @type {any} */ r) => !r.side || r.side === table.document.side) : []);
  const name = table.stage === "as it stands" ? "at full length" : table.stage;
  const stage = (answer.outlook?.stages ?? []).find((/** @type {any} */ s) => s.name === name);
  const planned = merged(stage?.readings ?? [], reply?.end ?? []);
  return html`<div class="stack ${computing ? "computing" : ""}">
    <section aria-labelledby="findings-head"><h2 id="findings-head">Findings</h2>
      ${answer.measured_absent ? html`<div class="hush stack tight"><p>${sentence(answer.measured_absent.found)} ${answer.measured_absent.next}</p>
            ${table.may ? html`<p><button type="button" class="strong" @click=${() => table.placeNext()}>Mark landmarks in order</button></p>` : nothing}</div>` : nothing}
      ${answer.plan_absent && answer.plan_absent.found !== answer.measured_absent?.found ? html`<p class="hush">No plan yet: ${answer.plan_absent.found} ${answer.plan_absent.next}</p>` : nothing}
      ${reply?.nail_offer ? html`<p class="hush" role="status">While you drag: ${reply.nail_offer.nail} ${reply.nail_offer.fits ? "fits." : `does not fit: ${reply.nail_offer.reasons.join(" ")}`}</p>` : nothing}
      ${findingGroups(findings, answer.measured ? "No findings." : "Findings come with the first measurements.")}</section>
    ${inShort(table, stage)} ${insidePart(table)} ${driftPart(table)}
    <section aria-labelledby="ledger-head"><h2 id="ledger-head">Ledger</h2>
      ${ledger({ seen, planned, stage: name, not_measured: answer.measured?.treated?.not_measured ?? [], live: table.pulling.live })}</section>
    ${apexes(reply?.apexes, answer)} ${cutFaces(reply?.cut_faces ?? answer.outlook?.cut_faces)} ${measureAgain(table)}
  </div>`;
}

/** Fast values while dragging, laid over the last full ones. @param {any[]} whole @param {any[]} fast */
function merged(whole, fast) {
  const quick = new Map(fast.map((r) => [r.measure, r]));
  return whole.map((r) => (quick.has(r.measure) ? { ...r, direction: undefined, ...quick.get(r.measure) } : r));
}

/** Room is kept from the start, so that nothing jumps when candidates arrive. @param {Table} table */
function firstAnswerComes(table) {
  return table.work.computing && !table.work.answer;
}

/** @param {Table} table */
function candidates(table) {
  const { work } = table;
  if (!work.answer?.plan) return nothing;
  const row = {
    candidates: work.candidates,
    failure: work.candidates_trouble,
    across_sign: acrossSign(table.shown("frontal")),
    considered: work.search?.considered ?? 0,
    validation: work.search?.validation ?? "",
    may: table.may,
    choose: (/** @type {any} */ c) => table.goal(c.changes.goal, `candidate: ${c.title}`, c.changes.alterations),
  };
  return html`<div class="candidate-head"><h2>Candidates</h2>
      <button type="button" class="plain small" aria-expanded=${table.show_candidates ? "true" : "false"} @click=${() => table.showCandidates(!table.show_candidates)}>${table.show_candidates ? "hide" : "show"}</button>
      ${table.show_candidates && (work.candidates?.length ?? 0) > 1
        ? html`<button type="button" class="plain small" id="compare-candidates" @click=${() => compareCandidates(/** @type {HTMLDialogElement} */ (document.querySelector("dialog#compare")), row)}>side by side</button>`
        : nothing}</div>
    ${table.show_candidates ? candidateRow(row) : nothing}`;
}

/** @param {Table} table */
function saveState(table) {
  const { work } = table;
  const words = {
    saved: `saved, version ${work.version}`,
    waiting: "not saved yet",
    saving: "saving…",
    failed: `not saved: ${work.trouble?.found ?? ""} ${work.trouble?.next ?? ""}`,
    conflict: "changed in another window",
  }[work.saving];
  if (!table.may) return html`<span class="save" role="status">version ${work.version}, read only</span>`;
  return html`<span class=${work.saving === "failed" || work.saving === "conflict" ? "save bad" : "save"} role="status">${words}</span>
    ${work.saving === "failed" ? html`<button type="button" class="small" @click=${() => void work.save()}>Save now</button>` : nothing}`;
}
