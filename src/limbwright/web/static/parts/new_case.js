/**
 * A new case: the films as read, what their headers propose, and whom it is about.
 * @module
 */
import { html, nothing } from "../vendor/lit-html/lit-html.js";
import { findingList, trouble } from "./findings.js";

/** @typedef {{file_name: string, sha256: string, duplicate: boolean, findings: any[], name: string, projection: string, taken_on: string, right_side_at: string, anterior_at: string, said: any}} FilmRow */

/** A row with what the header proposes; what it does not say is left for the surgeon. @param {any} film @param {{name: string}[]} others @returns {FilmRow} */
export function proposed(film, others) {
  const p = film.proposal ?? {};
  const base = p.name ?? [p.projection, p.side && p.side !== "both" ? p.side : ""].filter(Boolean).join(" ") ?? "";
  let name = base || film.file_name.replace(/\.[^.]*$/, "");
  for (let n = 2; others.some((o) => o.name === name); n += 1) name = `${base || "film"} ${n}`;
  return {
    file_name: film.file_name,
    sha256: film.sha256,
    duplicate: film.duplicate,
    findings: film.findings ?? [],
    name,
    projection: p.projection ?? "",
    taken_on: p.taken_on ?? "",
    right_side_at: p.right_side_at ?? "viewer left",
    anterior_at: p.anterior_at ?? "",
    said: p,
  };
}

/**
 * @param {object} what @param {FilmRow[]} what.films @param {any[]} what.refused @param {any} what.patient
 * @param {boolean} what.creating @param {import("../api.js").Failure|null} what.create_trouble
 * @param {() => void} what.change @param {() => void} what.create @param {(row: FilmRow) => void} what.drop @param {() => void} what.forget
 */
export function newCaseForm({ films, refused, patient, creating, create_trouble, change, create, drop, forget }) {
  const missing = whatIsMissing(films, patient);
  const set = setter(change);
  return html`<section id="new-case" class="card stack" aria-labelledby="new-case-head">
    <h2 id="new-case-head" tabindex="-1">New case</h2>
    ${films.length
      ? filmTable(films, change, drop)
      : nothing}
    ${refused.map((r) => html`<div class="trouble" role="alert"><p><strong>${r.file_name}</strong> ${r.error.found} ${r.error.next}</p></div>`)}
    <form class="patient-fields" @submit=${(/** @type {Event} */ e) => (e.preventDefault(), create())}>
      <label class="field">Pseudonym of the patient<input id="patient-id" required maxlength="64" autocomplete="off" .value=${patient.id} @input=${set(patient, "id")} /><span class="hint">not a name, not a hospital number</span></label>
      <label class="field">Sex<select id="patient-sex" required @change=${set(patient, "sex")}>${options(["", "female", "male"], patient.sex)}</select></label>
      <label class="field">Birth date<input id="patient-birth" type="date" .value=${patient.birth_date} @input=${set(patient, "birth_date")} /></label>
      <label class="field">or age [years]<input id="patient-age" type="number" min="0" max="120" step="0.1" .value=${patient.age_years} ?disabled=${Boolean(patient.birth_date)} @input=${set(patient, "age_years")} /></label>
      <label class="field">Leg to treat<select id="treated-side" required @change=${set(patient, "side")}>${options(["", "right", "left"], patient.side)}</select></label>
      <label class="field wide">Diagnosis, no names<input id="diagnosis" maxlength="400" .value=${patient.diagnosis} @input=${set(patient, "diagnosis")} /></label>
      <div class="row wide">
        <button type="submit" class="strong" id="create-case" ?disabled=${missing.length > 0 || creating}>${creating ? "Making the case…" : "Make the case"}</button>
        <button type="button" @click=${forget}>Not now</button>
        ${missing.length ? html`<span class="small">Still needed: ${missing.join(", ")}.</span>` : nothing}
      </div>
    </form>
    ${trouble(create_trouble)}
  </section>`;
}

/** A field's value into a row as it is typed. @param {() => void} change */
function setter(change) {
  return (/** @type {any} */ target, /** @type {string} */ key) => (/** @type {Event} */ e) => {
    target[key] = /** @type {HTMLInputElement} */ (e.target).value;
    change();
  };
}

/** Films as read, with what is proposed for each. @param {FilmRow[]} films @param {() => void} change @param {(row: FilmRow) => void} drop */
export function filmTable(films, change, drop) {
  return html`<table class="film-table">
    <thead><tr><th scope="col">File</th><th scope="col">Name</th><th scope="col">Projection</th><th scope="col">Hung with</th><th scope="col">Taken on</th><th scope="col"><span class="for-readers">Take away</span></th></tr></thead>
    <tbody>${films.map((f, i) => filmRow(f, i, setter(change), drop))}</tbody>
  </table>`;
}

/** Rows as the server takes them. @param {FilmRow[]} films */
export function sentFilms(films) {
  return films.map(({ sha256, name, projection, taken_on, right_side_at, anterior_at }) => ({
    sha256,
    name,
    projection,
    taken_on: taken_on || null,
    right_side_at,
    anterior_at: projection === "sagittal" ? anterior_at || null : null,
    standing: true,
  }));
}

/** @param {string[]} values @param {string} now */
function options(values, now) {
  return values.map((v) => html`<option value=${v} .selected=${v === now}>${v || "choose"}</option>`);
}

/** @param {FilmRow} f @param {number} i @param {any} set @param {(row: FilmRow) => void} drop */
function filmRow(f, i, set, drop) {
  const label = (/** @type {string} */ what) => `${what} of film ${i + 1}`;
  return html`<tr>
    <th scope="row">${f.file_name}
      <p class="small quiet">${f.said.width_px} × ${f.said.height_px} px${f.said.side ? `, ${f.said.side === "both" ? "both legs" : `${f.said.side} leg`}` : ""}</p>
      ${f.duplicate ? html`<p class="small"><span class="badge">known film</span> These bytes are here already; the film is kept once.</p>` : nothing}
      ${f.findings.length ? html`<details class="small"><summary>${f.findings.length} findings</summary>${findingList(f.findings)}</details>` : nothing}</th>
    <td><input aria-label=${label("name")} maxlength="80" .value=${f.name} @input=${set(f, "name")} /></td>
    <td><select aria-label=${label("projection")} @change=${set(f, "projection")}>${options(["", "frontal", "sagittal"], f.projection)}</select></td>
    <td>${f.projection === "sagittal"
      ? html`<select aria-label=${label("where anterior is")} @change=${set(f, "anterior_at")}>${[["", "anterior side?"], ["viewer left", "anterior at the left"], ["viewer right", "anterior at the right"]].map(([v, w]) => html`<option value=${v} .selected=${v === f.anterior_at}>${w}</option>`)}</select>`
      : html`<select aria-label=${label("where the right side is")} @change=${set(f, "right_side_at")}>${[["viewer left", "right leg at the left"], ["viewer right", "right leg at the right"]].map(([v, w]) => html`<option value=${v} .selected=${v === f.right_side_at}>${w}</option>`)}</select>`}</td>
    <td><input type="date" aria-label=${label("day")} .value=${f.taken_on} @input=${set(f, "taken_on")} /></td>
    <td><button type="button" class="plain small" aria-label="take away ${f.file_name}" @click=${() => drop(f)}>take away</button></td>
  </tr>`;
}

/** @param {FilmRow[]} films @returns {string[]} */
export function filmsMissing(films) {
  /** @type {string[]} */
  const missing = [];
  if (!films.length) missing.push("a film");
  films.forEach((f, i) => {
    if (!f.projection) missing.push(`projection of film ${i + 1}`);
    if (f.projection === "sagittal" && !f.anterior_at) missing.push(`where anterior is on film ${i + 1}`);
    if (!f.name.trim()) missing.push(`name of film ${i + 1}`);
  });
  if (new Set(films.map((f) => f.name)).size < films.length) missing.push("different names for the films");
  return missing;
}

/** @param {FilmRow[]} films @param {any} patient @returns {string[]} */
export function whatIsMissing(films, patient) {
  const missing = filmsMissing(films);
  if (!patient.id.trim()) missing.push("pseudonym");
  if (!patient.sex) missing.push("sex");
  if (!patient.birth_date && patient.age_years === "") missing.push("birth date or age");
  if (!patient.side) missing.push("leg to treat");
  return missing;
}
