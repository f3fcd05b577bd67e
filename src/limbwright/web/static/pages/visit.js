/**
 * A visit, by keyboard, in about two minutes: every field in the order in which films are read and a leg is examined.
 * @module
 */
import { call, failureOf } from "../api.js";
import { html, nothing, render } from "../vendor/lit-html/lit-html.js";
import { trouble } from "../parts/findings.js";
import { FilmDesk, clicksOf, filmDesk } from "../parts/visit_film.js";
import { CORTICES, answersOf, fieldOf, visitOf } from "../models/visit_edit.js";
import { sentence } from "../models/wording.js";

const WORDS = {
  frontal: ["Frontal film", "°", ["varus", "valgus"]],
  sagittal: ["Sagittal film", "°", ["procurvatum", "recurvatum"]],
  frontal_translation: ["Distal part shifted, frontal", "mm", ["lateral", "medial"]],
  sagittal_translation: ["Distal part shifted, sagittal", "mm", ["anterior", "posterior"]],
};

/** @param {any} data @param {HTMLElement} root */
export function start(data, root) {
  const id = encodeURIComponent(data.case_id);
  const course = data.document.case.course;
  if (!course) {
    root.replaceChildren();
    render(html`<p class="hush">No operation is recorded yet. <a href="/cases/${id}/operation">Record its day on the operation page</a> first.</p>`, root);
    return;
  }
  /** @type {string[]} */
  const bones = course.treatments.map((/** @type {any} */ t) => t.prescription.bone);
  const existing = (course.visits ?? []).find((/** @type {any} */ v) => v.seen_on === data.on);
  const last = (course.visits ?? []).filter((/** @type {any} */ v) => v.seen_on < data.on).pop();
  const before = last ? answersOf(last, bones) : {};
  /** The visit as it was opened or as the films' readings have filled it: what the form does not show is kept from it. */
  let kept = existing ?? {};
  let answers = existing ? answersOf(existing, bones) : /** @type {import("../models/visit_edit.js").Answers} */ ({});
  let seenOn = data.on;
  let base = data.document.version;
  let saving = false;
  let touched = false;
  /** @type {import("../api.js").Failure|null} */
  let failure = null;
  /** @type {Record<string, string>} */
  let wrong = {};
  const may = data.user.role !== "read";
  /** Films that can be read here: those of the case after the operation, and those that are added. @type {any[]} */
  let films = filmsOf(data.document.case, course);
  /** @type {FilmDesk|null} */
  let desk = null;
  let reading = false;
  let bone = bones[0];

  /** @param {any} film */
  async function look(film) {
    failure = null;
    try {
      const header = await call("GET", `/api/films/${film.sha256}`);
      const marks = (kept.marks ?? []).find((/** @type {any} */ m) => m.bone === bone && m.projection === film.projection && m.film === film.name);
      desk = new FilmDesk(film, bone, header, show, marks);
    } catch (error) {
      failure = failureOf(error);
    }
    show();
  }

  /** @param {FileList|null} files */
  async function add(files) {
    if (!files?.length) return;
    failure = null;
    const body = new FormData();
    for (const file of files) body.append("files", file);
    try {
      const answer = await call("POST", "/api/films", body);
      const added = answer.films.map((/** @type {any} */ f) => newFilm(f, films, seenOn));
      films = [...films.filter((f) => !added.some((/** @type {any} */ a) => a.sha256 === f.sha256)), ...added];
      if (added.length) await look(added[0]);
    } catch (error) {
      failure = failureOf(error);
    }
    show();
  }

  /** Films that a visit names, as the server asks for them. @param {any} visit */
  const named = (visit) => films.filter((f) => (visit.films ?? []).includes(f.name)).map(sent);

  async function read() {
    if (!desk || reading) return;
    const at = desk;
    reading = true;
    failure = null;
    show();
    try {
      const answer = await call("POST", `/api/cases/${id}/course/film-reading`, { bone: at.bone, film: sent(at.film), films: named(kept), clicks: clicksOf(at), visit: visitOf(answers, bones, seenOn, kept) });
      kept = answer.visit;
      answers = answersOf(kept, bones);
      at.reading = answer.reading;
      at.marks = kept.marks.find((/** @type {any} */ m) => m.film === at.film.name);
      at.clicks = {};
      touched = true;
    } catch (error) {
      failure = failureOf(error);
    }
    reading = false;
    show();
  }

  /** @param {string} name @param {string|boolean} value */
  const set = (name, value) => {
    answers = { ...answers, [name]: value };
    touched = true;
    if (wrong[name]) {
      const { [name]: _, ...rest } = wrong;
      wrong = rest;
    }
    show();
  };

  async function save() {
    if (saving || !may) return;
    saving = true;
    failure = null;
    wrong = {};
    show();
    const visit = visitOf(answers, bones, seenOn, kept);
    try {
      await call("POST", `/api/cases/${id}/course/visits`, { base_version: base, visit, replaces: existing ? existing.seen_on : null, films: named(visit) });
      touched = false;
      window.location.assign(`/cases/${id}/course?on=${seenOn}`);
      return;
    } catch (error) {
      failure = failureOf(error);
      for (const p of failure.problems ?? []) wrong[fieldOf(p.path, visit)] = `${p.found} ${p.next ?? ""}`;
      if (failure.code === "conflict" && failure.version) base = failure.version;
    }
    saving = false;
    show();
    /** @type {HTMLElement|null} */ (root.querySelector("[aria-invalid=true]"))?.focus();
  }

  /** @param {string} name @param {{step?: number, least?: number}} [how] */
  function number(name, { step = 0.1, least } = {}) {
    return html`<input type="number" name=${name} id=${name} inputmode="decimal" step=${step} min=${least ?? nothing} ?disabled=${!may}
      placeholder=${before[name] !== undefined ? String(before[name]) : ""} aria-invalid=${wrong[name] ? "true" : "false"} title=${wrong[name] ?? nothing}
      .value=${String(answers[name] ?? "")} @input=${(/** @type {Event} */ e) => set(name, /** @type {HTMLInputElement} */ (e.target).value)} />`;
  }
  /** @param {string} name @param {string[]} choices @param {string} words */
  function choice(name, choices, words) {
    return html`<select name=${name} id=${name} aria-label=${words} ?disabled=${!may} aria-invalid=${wrong[name] ? "true" : "false"} @change=${(/** @type {Event} */ e) => set(name, /** @type {HTMLSelectElement} */ (e.target).value)}>
      <option value=""></option>${choices.map((c) => html`<option value=${c} ?selected=${answers[name] === c}>${c}</option>`)}</select>`;
  }
  /** @param {string} name @param {string} words */
  function tick(name, words) {
    return html`<label><input type="checkbox" name=${name} ?disabled=${!may} .checked=${Boolean(answers[name])} @change=${(/** @type {Event} */ e) => set(name, /** @type {HTMLInputElement} */ (e.target).checked)} /> ${words}</label>`;
  }
  /** @param {string} name @param {string} words @param {string} unit @param {{step?: number, least?: number}} [how] */
  function single(name, words, unit, how) {
    return html`<div class="single"><label for=${name}>${words}</label>${number(name, how)}<span class="quiet">${unit}</span></div>${wrongLine(name)}`;
  }
  /** @param {string} name */
  function wrongLine(name) {
    return wrong[name] ? html`<p class="small wrong-line" role="alert">${wrong[name]}</p>` : nothing;
  }

  /** @param {string} bone */
  function lengths(bone) {
    return html`<fieldset><legend>${sentence(bone)}: films</legend>
      ${single(`${bone}.measured_mm`, "Length gained, measured", "mm", { step: 0.1 })}
      ${single(`${bone}.reported_mm`, "Length by the patient's diary", "mm", { step: 0.25 })}
      ${Object.entries(WORDS).map(([part, [words, unit, senses]]) => {
        const name = `${bone}.${part}`;
        return html`<div class="pair"><label for=${name}>${words} [${unit}]</label>${number(name, { least: 0 })}${choice(`${name}.direction`, /** @type {string[]} */ (senses), `${words}, direction`)}</div>${wrongLine(name)}${wrongLine(`${name}.direction`)}`;
      })}
      <p class="small quiet">Angles and shifts are changes since the first film after the operation.</p>
    </fieldset>`;
  }

  /** @param {string} bone */
  function grown(bone) {
    return html`<fieldset><legend>${sentence(bone)}: new bone</legend>
      ${CORTICES.map((cortex) => {
        const name = `${bone}.${cortex}`;
        return html`<div class="cortex"><label for=${name}>${sentence(cortex)} cortex, density ratio</label>${number(name, { step: 0.01, least: 0 })}
          ${bridging(name, cortex)}</div>${wrongLine(name)}`;
      })}
      ${single(`${bone}.width_ratio`, "Width, new bone over bone", "", { step: 0.05, least: 0 })}
      <div class="single"><label for="${bone}.shape">Outline</label>${choice(`${bone}.shape`, data.choices.shape, "Outline")}</div>
      <div class="single"><label for="${bone}.texture">Texture</label>${choice(`${bone}.texture`, data.choices.texture, "Texture")}</div>
    </fieldset>`;
  }

  /** @param {string} name @param {string} cortex */
  function bridging(name, cortex) {
    const field = `${name}.bridged`;
    return html`<select name=${field} aria-label="${cortex} cortex bridged" ?disabled=${!may} @change=${(/** @type {Event} */ e) => set(field, /** @type {HTMLSelectElement} */ (e.target).value)}>
      <option value="">not judged</option><option value="no" ?selected=${answers[field] === "no"}>not bridged</option><option value="yes" ?selected=${answers[field] === "yes"}>bridged</option></select>`;
  }

  function filmPart() {
    const shown = films.filter((f) => !f.taken_on || f.taken_on === seenOn || (kept.films ?? []).includes(f.name));
    return html`<section class="stack visit-film" aria-label="Films of this visit">
      <div class="row">
        ${shown.map((f) => html`<button type="button" class="small" aria-pressed=${desk?.film.sha256 === f.sha256 ? "true" : "false"} @click=${() => void look(f)}>${f.name}${(kept.marks ?? []).some((/** @type {any} */ m) => m.film === f.name) ? " ✓" : ""}</button>`)}
        ${may ? html`<label class="button small">Add a film<input class="for-readers" id="add-film" type="file" multiple accept=".dcm,.dicom,image/png,image/jpeg,image/tiff" @change=${(/** @type {Event} */ e) => void add(/** @type {HTMLInputElement} */ (e.target).files)} /></label>` : nothing}
        ${bones.length > 1 ? html`<label class="row small">Bone <select @change=${(/** @type {Event} */ e) => { bone = /** @type {HTMLSelectElement} */ (e.target).value; if (desk) void look(desk.film); }}>${bones.map((b) => html`<option ?selected=${b === bone}>${b}</option>`)}</select></label>` : nothing}
      </div>
      ${desk ? html`${desk.film.projection ? nothing : html`<p class="wrong-line">The film does not say its plane.</p>`}${planeOf(desk)}${filmDesk(desk, { read: () => void read(), busy: reading, may })}` : html`<p class="hush small">${shown.length ? "Choose a film to look at it and to read it." : "No film of this day yet. Add one, and its readings are put into the form; or type what you read elsewhere."}</p>`}
    </section>`;
  }

  /** What a header may leave open: plane, and where anterior or the right side is. @param {FilmDesk} at */
  function planeOf(at) {
    const f = /** @type {any} */ (at.film);
    if (!f.added) return nothing;
    const change = (/** @type {any} */ part) => {
      films = films.map((one) => (one === f ? { ...f, ...part } : one));
      void look(films.find((one) => one.sha256 === f.sha256));
    };
    /** @param {string} words @param {string} key @param {string[]} choices */
    const pick = (words, key, choices) => html`<label class="row small">${words} <select @change=${(/** @type {Event} */ e) => change({ [key]: /** @type {HTMLSelectElement} */ (e.target).value || null })}><option value=""></option>${choices.map((c) => html`<option value=${c} ?selected=${f[key] === c}>${c}</option>`)}</select></label>`;
    return html`<div class="row">${pick("Plane", "projection", ["frontal", "sagittal"])}${f.projection === "sagittal" ? pick("Anterior at", "anterior_at", ["viewer left", "viewer right"]) : pick("Patient's right at", "right_side_at", ["viewer left", "viewer right"])}</div>`;
  }

  function hardware() {
    return html`<fieldset><legend>Nail, screws, fibula</legend>
      ${tick("hardware_read", "Nail and screws looked at on the films")}
      <div class="ticks">${bones.flatMap((bone) => data.choices.hardware.map((/** @type {string} */ kind) => tick(`hardware.${bone}.${kind}`, bones.length > 1 ? `${bone}: ${kind}` : kind)))}</div>
      ${bones.includes("tibia") ? html`${single("head_distal_mm", "Fibular head, distal since the operation", "mm")}${single("malleolus_proximal_mm", "Malleolus, proximal since the operation", "mm")}` : nothing}
    </fieldset>`;
  }

  function examined() {
    return html`<fieldset><legend>Examination</legend>
      ${tick("nerves_examined", "Feeling and strength of the foot examined")}
      <div class="ticks">${data.choices.nerve_sign.map((/** @type {string} */ s) => tick(`nerve.${s}`, s))}</div>
      ${single("ankle_dorsiflexion_deg", "Ankle dorsiflexion, knee straight (equinus below 0)", "°", { step: 1 })}
      ${single("ankle_dorsiflexion_knee_bent_deg", "Ankle dorsiflexion, knee bent", "°", { step: 1 })}
      ${single("knee_flexion_deg", "Knee flexion", "°", { step: 1, least: 0 })}
      ${single("knee_extension_loss_deg", "Loss of knee extension", "°", { step: 1 })}
      ${tick("joint_subluxation", "A joint slides out of place")}
    </fieldset>
    <fieldset><legend>Patient</legend>
      ${single("pain_0_to_10", "Worst pain of the last days, 0 to 10", "", { step: 1, least: 0 })}
      ${single("weight_borne_kg", "Weight put on the leg, on scales", "kg", { step: 1, least: 0 })}
      ${single("therapy_done_percent", "Exercises done", "%", { step: 5, least: 0 })}
      <div class="single"><label for="wound">Wounds</label>${choice("wound", data.choices.wound, "Wounds")}</div>
      <label class="field">Note, no names<textarea name="note" maxlength="2000" ?disabled=${!may} .value=${String(answers.note ?? "")} @input=${(/** @type {Event} */ e) => set("note", /** @type {HTMLTextAreaElement} */ (e.target).value)}></textarea></label>
    </fieldset>`;
  }

  function show() {
    render(
      html`<form id="visit" autocomplete="off" @submit=${(/** @type {Event} */ e) => { e.preventDefault(); void save(); }}>
        <div class="stack">
          <div class="visit-bar">
            <label class="row">Seen on <input id="seen-on" type="date" required ?disabled=${!may} .value=${seenOn} aria-invalid=${wrong.seen_on ? "true" : "false"} @change=${(/** @type {Event} */ e) => { seenOn = /** @type {HTMLInputElement} */ (e.target).value; touched = true; show(); }} /></label>
            <button class="strong" id="save-visit" ?disabled=${saving || !may}>${saving ? "Saving…" : existing ? "Save the changed visit" : "Save the visit"}</button>
            <span class="small quiet"><kbd>Ctrl</kbd> <kbd>Enter</kbd> saves. What stays empty counts as not examined.${last ? ` Grey: the visit of ${last.seen_on}.` : ""}</span>
            <a href="/cases/${id}/course?on=${seenOn}">back to the course</a>
          </div>
          ${trouble(failure, failure?.code === "conflict" ? html`<p class="small">Your entries are still here: save again to put this visit on top of their version.</p>` : nothing)}
          <div class="visit-form">
            ${filmPart()}
            <div class="stack">${bones.map(lengths)}${hardware()}</div>
            <div class="stack">${bones.map(grown)}${examined()}</div>
          </div>
        </div>
      </form>`,
      root,
    );
  }

  document.addEventListener("keydown", (event) => {
    if (event.key === "Enter" && (event.ctrlKey || event.metaKey)) {
      event.preventDefault();
      void save();
    }
  });
  window.addEventListener("beforeunload", (event) => {
    if (touched) event.preventDefault();
  });
  root.replaceChildren();
  show();
  /** @type {HTMLElement|null} */ (root.querySelector(`[id="${bones[0]}.measured_mm"]`))?.focus();
}

/** Films of a case that show the bone after its operation. @param {any} kase @param {any} course */
function filmsOf(kase, course) {
  const first = course.treatments.map((/** @type {any} */ t) => t.operated_on).sort()[0];
  return (kase.films ?? []).filter((/** @type {any} */ f) => f.sha256 && f.taken_on && f.taken_on >= first);
}

/** A film that was just taken in, as a visit names it. @param {any} taken answer of POST /api/films @param {any[]} films @param {string} seenOn */
function newFilm(taken, films, seenOn) {
  const p = taken.proposal;
  const known = films.find((f) => f.sha256 === taken.sha256);
  if (known) return known;
  const plain = `${p.taken_on ?? seenOn} ${p.projection ?? p.name}`;
  const name = films.some((f) => f.name === plain) ? `${plain} ${taken.sha256.slice(0, 6)}` : plain;
  return { sha256: taken.sha256, name, projection: p.projection, taken_on: p.taken_on ?? seenOn, right_side_at: p.right_side_at ?? "viewer left", anterior_at: p.anterior_at, standing: false, added: true };
}

/** A film as the server asks for it. @param {any} f */
function sent(f) {
  return { sha256: f.sha256, name: f.name, projection: f.projection, taken_on: f.taken_on, right_side_at: f.right_side_at ?? "viewer left", anterior_at: f.projection === "sagittal" ? f.anterior_at : null, standing: f.standing ?? false };
}
