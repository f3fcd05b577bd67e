/**
 * Cases: list with search, and a new case from dropped films.
 * @module
 */
import { Latest, call, failureOf } from "../api.js";
import { html, nothing, render } from "../vendor/lit-html/lit-html.js";
import { caseList } from "../parts/case_list.js";
import { trouble } from "../parts/findings.js";
import { newCaseForm, proposed, sentFilms } from "../parts/new_case.js";
import { progressWords, upload } from "../parts/upload.js";
import { counted } from "../models/wording.js";

/** @param {string} field @param {File[]} files */
function formOf(field, files) {
  const form = new FormData();
  for (const file of files) form.append(field, file, file.name);
  return form;
}

/** @param {any} data @param {HTMLElement} root */
export function start(data, root) {
  const state = {
    /** @type {any} */ found: data.search,
    text: "",
    searching: false,
    /** @type {import("../api.js").Failure|null} */ failure: null,
    taking: 0,
    part: 0,
    imported: "",
    over: false,
    /** @type {import("../parts/new_case.js").FilmRow[]} */ films: [],
    /** @type {any[]} */ refused: [],
    patient: { id: "", sex: "", birth_date: "", age_years: "", side: "", diagnosis: "" },
    creating: false,
    /** @type {import("../api.js").Failure|null} */ create_trouble: null,
  };
  const may = data.user.role !== "read";

  const search = new Latest(
    (/** @type {{text: string, offset: number}} */ asked) => call("POST", "/api/cases/search", { ...asked, limit: 50 }),
    (found, asked) => {
      state.found = asked.offset ? { ...found, cases: [...state.found.cases, ...found.cases] } : found;
      state.searching = false;
      state.failure = null;
      show();
    },
    (error) => {
      state.failure = failureOf(error);
      state.searching = false;
      show();
    },
  );

  /** @param {FileList|null|undefined} files */
  async function take(files) {
    const list = [...(files ?? [])];
    if (!list.length) return;
    if (list.length > data.limits.files) {
      state.create_trouble = { code: "too-many", found: `${list.length} files were dropped, at most ${data.limits.files} can be taken at once.`, where: "films", unit: "", next: "Drop fewer at a time.", problems: [], differs: [] };
      return show();
    }
    state.taking = list.length;
    state.part = 0;
    state.imported = "";
    state.create_trouble = null;
    show();
    const sent = (/** @type {number} */ part) => {
      state.part = part;
      show();
    };
    try {
      for (const archive of list.filter((f) => /\.zip$/i.test(f.name))) await bringIn(archive, sent);
      const films = list.filter((f) => !/\.zip$/i.test(f.name));
      if (films.length) add(await upload("/api/films", formOf("files", films), sent));
    } catch (error) {
      const failure = failureOf(error);
      const partly = /** @type {any} */ (failure).refused;
      if (partly?.length) state.refused.push(...partly);
      else state.create_trouble = failure;
    }
    state.taking = 0;
    show();
    /** @type {HTMLElement|null} */ (root.querySelector("#new-case h2"))?.focus();
  }

  /** Cases that were exported come back whole. @param {File} archive @param {(part: number) => void} sent */
  async function bringIn(archive, sent) {
    const said = await upload("/api/cases/import", formOf("file", [archive]), sent);
    const words = [
      [said.new_cases, "new"],
      [said.continued_cases, "continued"],
      [said.known_cases, "known already"],
    ].filter(([cases]) => cases.length).map(([cases, word]) => `${cases.join(", ")} (${word})`);
    state.imported = `From ${archive.name}: ${words.join(", ") || "no case"}; ${counted(said.new_films, "new film")}.`;
    search.ask({ text: state.text, offset: 0 });
  }

  /** @param {any} answer */
  function add(answer) {
    for (const film of answer.films ?? []) {
      if (state.films.some((f) => f.sha256 === film.sha256)) {
        state.refused.push({ file_name: film.file_name, error: { found: "this film is in the list already.", next: "", where: "", unit: "" } });
        continue;
      }
      state.films.push(proposed(film, state.films));
      const p = film.proposal ?? {};
      if (!state.patient.id && p.patient_id) state.patient.id = p.patient_id;
      if (!state.patient.sex && ["female", "male"].includes(p.patient_sex)) state.patient.sex = p.patient_sex;
      if (!state.patient.birth_date && p.patient_birth_date) state.patient.birth_date = p.patient_birth_date;
    }
    state.refused.push(...(answer.refused ?? []));
  }

  async function create() {
    state.creating = true;
    state.create_trouble = null;
    show();
    const p = state.patient;
    try {
      const made = await call("POST", "/api/cases", {
        side: p.side,
        diagnosis: p.diagnosis,
        patient: { id: p.id, sex: p.sex, ...(p.birth_date ? { birth_date: p.birth_date } : { age_years: Number(p.age_years) }) },
        films: sentFilms(state.films),
      });
      location.assign(`/cases/${encodeURIComponent(made.id)}/table`);
    } catch (error) {
      state.create_trouble = failureOf(error);
      state.creating = false;
      show();
    }
  }

  function show() {
    render(
      html`
        ${may ? dropZone() : nothing}
        ${state.imported ? html`<p class="hush" role="status">${state.imported}</p>` : nothing}
        ${state.films.length || state.refused.length
          ? newCaseForm({ ...state, change: show, create: () => void create(), drop: (row) => ((state.films = state.films.filter((f) => f !== row)), show()), forget: () => ((state.films = []), (state.refused = []), show()) })
          : trouble(state.create_trouble)}
        <section class="stack" aria-label="All cases">
          <div class="row apart">
            <label class="search"><span class="for-readers">Search in identifier, pseudonym and diagnosis</span>
              <input type="search" placeholder="Search: identifier, pseudonym, diagnosis" .value=${state.text}
                @input=${(/** @type {Event} */ e) => {
                  state.text = /** @type {HTMLInputElement} */ (e.target).value;
                  state.searching = true;
                  search.ask({ text: state.text, offset: 0 });
                  show();
                }} /></label>
            <span class="quiet small" role="status">${state.searching ? "searching…" : `${state.found.cases.length}${state.found.more ? " or more" : ""} found`}</span>
          </div>
          ${trouble(state.failure)}
          ${caseList(state.found.cases, state.text)}
          ${state.found.more ? html`<button type="button" @click=${() => search.ask({ text: state.text, offset: state.found.cases.length })}>Show more</button>` : nothing}
        </section>
      `,
      root,
    );
  }

  function dropZone() {
    return html`<label class="drop ${state.over ? "over" : ""}"
      @dragover=${(/** @type {DragEvent} */ e) => (e.preventDefault(), state.over || ((state.over = true), show()))}
      @dragleave=${() => ((state.over = false), show())}
      @drop=${(/** @type {DragEvent} */ e) => {
        e.preventDefault();
        state.over = false;
        void take(e.dataTransfer?.files);
      }}>
      <strong role="status">${state.taking ? progressWords(counted(state.taking, "file"), state.part) : "New case: drop its films here"}</strong>
      ${state.taking ? html`<progress max="1" .value=${state.part} aria-label="films taken in"></progress>` : nothing}
      <span class="quiet">DICOM, several at once, or a case that was exported (.zip); or choose files. They stay on this machine.</span>
      <input type="file" id="film-files" multiple ?disabled=${state.taking > 0}
        @change=${(/** @type {Event} */ e) => {
          const input = /** @type {HTMLInputElement} */ (e.target);
          void take(input.files).then(() => (input.value = ""));
        }} />
    </label>`;
  }

  root.replaceChildren();
  show();
}
