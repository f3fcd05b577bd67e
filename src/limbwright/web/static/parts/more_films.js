/**
 * Further films for a case that is begun: a second plane that came later, a film taken again.
 * @module
 */
import { call, failureOf } from "../api.js";
import { html, nothing } from "../vendor/lit-html/lit-html.js";
import { trouble } from "./findings.js";
import { filmTable, filmsMissing, proposed, sentFilms } from "./new_case.js";
import { progressWords, upload } from "./upload.js";

/** @typedef {import("../pages/table.js").LightTable} Table */
/** @typedef {import("./new_case.js").FilmRow} FilmRow */

export class MoreFilms {
  /** @param {Table} table */
  constructor(table) {
    this.table = table;
    /** @type {FilmRow[]} */
    this.films = [];
    /** @type {any[]} */
    this.refused = [];
    /** @type {import("../api.js").Failure|null} */
    this.failure = null;
    this.part = -1;
  }

  /** @param {FileList|null} files */
  async take(files) {
    if (!files?.length) return;
    const form = new FormData();
    for (const file of files) form.append("files", file, file.name);
    this.failure = null;
    this.#at(0);
    try {
      const said = await upload("/api/films", form, (part) => this.#at(part));
      const there = this.table.document.films.map((/** @type {any} */ f) => f.sha256);
      for (const film of said.films ?? []) if (!there.includes(film.sha256)) this.films.push(proposed(film, [...this.films, ...this.table.document.films]));
      this.refused = [...(said.refused ?? []), ...(said.films ?? []).filter((/** @type {any} */ f) => there.includes(f.sha256)).map((/** @type {any} */ f) => ({ file_name: f.file_name, error: { found: "this film is in the case already.", next: "" } }))];
    } catch (error) {
      const failure = failureOf(error);
      this.refused = /** @type {any} */ (failure).refused ?? [];
      if (!this.refused.length) this.failure = failure;
    }
    this.#at(-1);
  }

  /** @param {number} part */
  #at(part) {
    this.part = part;
    this.table.paint();
  }

  async add() {
    const { work } = this.table;
    try {
      if (!(await work.save())) throw new Error("the case could not be saved first");
      const path = `/api/cases/${encodeURIComponent(work.id)}`;
      await call("POST", `${path}/films`, { base_version: work.version, films: sentFilms(this.films), why: "films added" });
      work.taken(await call("GET", path), "films added");
      this.films = [];
      this.refused = [];
      this.failure = null;
      this.table.openFilms();
    } catch (error) {
      this.failure = failureOf(error);
    }
    this.table.paint();
  }

  view() {
    const missing = filmsMissing(this.films);
    const change = () => this.table.paint();
    return html`<section class="stack" aria-labelledby="more-films-head"><h2 id="more-films-head">Films</h2>
      <p class="small">${this.table.document.films.map((/** @type {any} */ f) => f.name).join(", ") || "None yet."}</p>
      <label class="field">Add films (DICOM)<input type="file" id="more-films" multiple ?disabled=${this.part >= 0} @change=${(/** @type {Event} */ e) => {
        const input = /** @type {HTMLInputElement} */ (e.target);
        void this.take(input.files).then(() => (input.value = ""));
      }} /></label>
      ${this.part >= 0 ? html`<p role="status" class="waiting">${progressWords("films", this.part)}</p>` : nothing}
      ${this.refused.map((r) => html`<div class="trouble" role="alert"><p><strong>${r.file_name}</strong> ${r.error.found} ${r.error.next}</p></div>`)}
      ${this.films.length
        ? html`<div class="film-scroll" tabindex="0" role="group" aria-label="Films to add">${filmTable(this.films, change, (row) => ((this.films = this.films.filter((f) => f !== row)), change()))}</div>
            <div class="row"><button type="button" class="strong" id="add-films" ?disabled=${missing.length > 0} @click=${() => void this.add()}>Add to this case</button>
              ${missing.length ? html`<span class="small">Still needed: ${missing.join(", ")}.</span>` : nothing}</div>`
        : nothing}
      ${trouble(this.failure)}</section>`;
  }
}
