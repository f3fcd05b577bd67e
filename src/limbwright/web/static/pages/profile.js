/**
 * Practice profile: the surgeon's own numbers, each with meaning, range, default and source.
 * @module
 */
import { call, failureOf } from "../api.js";
import { html, nothing, render } from "../vendor/lit-html/lit-html.js";
import { trouble } from "../parts/findings.js";
import { sentence } from "../models/wording.js";

/** @param {any} data @param {HTMLElement} root */
export function start(data, root) {
  let profile = data.profile;
  /** @type {Map<string, any>} changed here, not saved yet */
  const changes = new Map();
  /** @type {import("../api.js").Failure|null} */
  let failure = null;
  let text = "";
  let said = "";
  let busy = false;
  const may = data.user.role === "sign";

  /** @param {() => Promise<any>} work @param {string} done */
  async function keep(work, done) {
    busy = true;
    show();
    try {
      profile = await work();
      changes.clear();
      failure = null;
      said = done;
    } catch (error) {
      failure = failureOf(error);
      said = "";
    }
    busy = false;
    show();
  }
  const save = () => keep(() => call("PUT", "/api/profile", { base_version: profile.version, changes: Object.fromEntries(changes), why: "" }), "Saved.");
  const reset = (/** @type {string[]|null} */ names) =>
    keep(() => call("POST", "/api/profile/reset", { base_version: profile.version, names }), names ? "Back to the default." : "All settings are back to their defaults.");
  async function again() {
    await keep(() => call("GET", "/api/profile"), "Loaded anew.");
  }

  /** @param {any} s @param {any} raw */
  function typed(s, raw) {
    const value = s.kind === "number" || s.kind === "whole number" ? (raw === "" ? null : Number(raw)) : raw;
    if (value === s.value) changes.delete(s.name);
    else changes.set(s.name, value);
    show();
  }

  /** What is wrong with a value, before the server is asked. @param {any} s @returns {string} */
  function wrong(s) {
    const problem = failure?.problems.find((p) => p.path === s.name);
    if (problem && changes.has(s.name)) return `${problem.found} ${problem.next ?? problem.next_step ?? ""}`;
    if (!changes.has(s.name)) return "";
    const value = changes.get(s.name);
    if (typeof s.value !== "number" || s.kind === "choice") return "";
    if (value === null || Number.isNaN(value)) return `expected ${s.expected}`;
    if (s.kind === "whole number" && !Number.isInteger(value)) return `expected ${s.expected}`;
    if ((s.low !== null && value < s.low) || (s.high !== null && value > s.high)) return `${value} ${s.unit} is outside: expected ${s.expected}`;
    return "";
  }

  function show() {
    const words = text.toLowerCase().split(/\s+/).filter(Boolean);
    const shown = profile.settings.filter((/** @type {any} */ s) => words.every((w) => `${s.group} ${s.name} ${s.meaning}`.toLowerCase().includes(w)));
    const groups = [...new Set(shown.map((/** @type {any} */ s) => s.group))];
    const bad = profile.settings.some((/** @type {any} */ s) => wrong(s));
    render(
      html`<div class="stack">
        <p>Surgeons differ; these are the numbers of this practice. Each starts at our default; where that comes from stands beside it.</p>
        <div class="editor-bar">
          <label class="search"><span class="for-readers">Search settings</span><input type="search" placeholder="Search settings" @input=${(/** @type {Event} */ e) => ((text = /** @type {HTMLInputElement} */ (e.target).value), show())} /></label>
          <button type="button" class="strong" id="save-profile" ?disabled=${!may || !changes.size || bad || busy} @click=${save}>Save ${changes.size ? `${changes.size} changed` : "changes"}</button>
          <button type="button" ?disabled=${!changes.size || busy} @click=${() => (changes.clear(), (failure = null), show())}>Forget changes</button>
          <button type="button" ?disabled=${!may || busy || !profile.settings.some((/** @type {any} */ s) => s.changed)} @click=${() => void reset(null)}>All to defaults</button>
          <a class="button" href="/api/profile.toml" download>As a file</a>
          <span class="quiet small" role="status">${said} version ${profile.version}${may ? "" : "; changing needs the role that signs"}</span>
        </div>
        ${trouble(failure, failure?.code === "conflict" ? html`<button type="button" @click=${() => void again()}>Load theirs</button>` : nothing)}
        ${shown.length ? nothing : html`<p class="hush">No setting holds “${text}”.</p>`}
        ${groups.map((g) => html`<section class="card" aria-label=${sentence(g)}><h2>${g}</h2>${shown.filter((/** @type {any} */ s) => s.group === g).map(row)}</section>`)}
      </div>`,
      root,
    );
  }

  /** @param {any} s */
  function row(s) {
    const id = `set-${s.name}`;
    const problem = wrong(s);
    const value = changes.has(s.name) ? changes.get(s.name) : s.value;
    return html`<div class="setting ${changes.has(s.name) ? "changed" : ""}">
      <label for=${id}>${sentence(s.meaning)}</label>
      <div class="row">${input(s, id, value, problem)} <span>${s.unit}</span>
        ${s.changed || changes.has(s.name) ? html`<button type="button" class="plain small" ?disabled=${!may} @click=${() => (s.changed ? void reset([s.name]) : (changes.delete(s.name), show()))}>${s.changed ? "default" : "undo"}<span class="for-readers"> ${s.name}</span></button>` : nothing}</div>
      <p class="small quiet">default ${String(s.default)} ${s.unit} · ${s.expected} · ${s.source}</p>
      ${problem ? html`<p class="wrong small" id="${id}-wrong">${problem}</p>` : nothing}
    </div>`;
  }

  /** @param {any} s @param {string} id @param {any} value @param {string} problem */
  function input(s, id, value, problem) {
    const invalid = problem ? "true" : "false";
    const described = problem ? `${id}-wrong` : nothing;
    if (s.kind === "choice" || s.choices?.length)
      return html`<select id=${id} ?disabled=${!may} @change=${(/** @type {Event} */ e) => typed(s, /** @type {HTMLSelectElement} */ (e.target).value)}>${s.choices.map((/** @type {string} */ c) => html`<option value=${c} .selected=${c === value}>${c}</option>`)}</select>`;
    if (typeof s.default === "boolean")
      return html`<input id=${id} type="checkbox" ?disabled=${!may} .checked=${value} @change=${(/** @type {Event} */ e) => typed(s, /** @type {HTMLInputElement} */ (e.target).checked)} />`;
    if (typeof s.default === "number")
      return html`<input id=${id} class="number" type="number" step="any" ?disabled=${!may} aria-invalid=${invalid} aria-describedby=${described} .value=${value === null ? "" : String(value)} @input=${(/** @type {Event} */ e) => typed(s, /** @type {HTMLInputElement} */ (e.target).value)} />`;
    return html`<input id=${id} ?disabled=${!may} aria-invalid=${invalid} .value=${String(value ?? "")} @input=${(/** @type {Event} */ e) => typed(s, /** @type {HTMLInputElement} */ (e.target).value)} />`;
  }

  root.replaceChildren();
  show();
  window.addEventListener("beforeunload", (e) => changes.size && e.preventDefault());
}
