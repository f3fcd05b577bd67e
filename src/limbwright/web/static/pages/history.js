/**
 * History of a case: any two versions compared, any one restored.
 * @module
 */
import { call, failureOf } from "../api.js";
import { html, nothing, render } from "../vendor/lit-html/lit-html.js";
import { trouble } from "../parts/findings.js";
import { sentence, whenWords } from "../models/wording.js";

/** @param {any} value */
function valueWords(value) {
  if (value === null || value === undefined) return "absent";
  const text = typeof value === "object" ? JSON.stringify(value) : String(value);
  return text.length > 160 ? `${text.slice(0, 160)}…` : text;
}

/** @param {any} data @param {HTMLElement} root */
export function start(data, root) {
  const path = `/api/cases/${encodeURIComponent(data.case_id)}`;
  let versions = data.versions;
  let [b, a] = [versions[0]?.version, versions[1]?.version ?? versions[0]?.version];
  /** @type {any[]|null} */
  let differs = null;
  /** @type {import("../api.js").Failure|null} */
  let failure = null;
  let said = "";

  async function compare() {
    try {
      differs = (await call("GET", `${path}/compare?a=${a}&b=${b}`)).differs;
      failure = null;
    } catch (error) {
      failure = failureOf(error);
    }
    show();
  }
  /** @param {number} version */
  async function restore(version) {
    try {
      const made = await call("POST", `${path}/restore`, { version, base_version: versions[0].version, why: `version ${version} restored` });
      versions = (await call("GET", `${path}/versions`)).versions;
      said = `Version ${version} is back, as version ${made.version}.`;
      failure = null;
    } catch (error) {
      failure = failureOf(error);
    }
    show();
  }

  function show() {
    const newest = versions[0]?.version;
    const several = versions.length > 1;
    render(
      html`<div class="stack">
        <div class="row">${several
            ? html`<button type="button" class="strong" id="compare" ?disabled=${a === b} @click=${() => void compare()}>Compare ${a} with ${b}</button>`
            : html`<span class="quiet">One version so far; every change adds one, and any two can then be compared.</span>`}
          <a class="button" href="${path}/export.zip">Export the case</a><a class="button" href="${path}/export.zip?deidentified=true">Export without identity</a>
          <span role="status" class="small">${said}</span></div>
        ${trouble(failure)}
        ${differs
          ? html`<section class="card" aria-label="What differs"><h2>Version ${a} against ${b}</h2>
              ${differs.length ? html`<table><thead><tr><th scope="col">What</th><th scope="col">Version ${a}</th><th scope="col">Version ${b}</th></tr></thead><tbody>${differs.map((d) => html`<tr><th scope="row">${sentence(d.words)}</th><td>${valueWords(d.before ?? d.theirs)}</td><td>${valueWords(d.after ?? d.yours)}</td></tr>`)}</tbody></table>` : html`<p class="quiet">They are the same.</p>`}</section>`
          : nothing}
        <table><thead><tr>${several ? html`<th scope="col">Compare</th>` : nothing}<th scope="col">Version</th><th scope="col">Saved</th><th scope="col">By</th><th scope="col">Why</th><th scope="col"><span class="for-readers">Restore</span></th></tr></thead>
          <tbody>${versions.map(
            (/** @type {any} */ v) => html`<tr>
              ${several ? html`<td><label><input type="radio" name="a" .checked=${v.version === a} @change=${() => ((a = v.version), show())} /> <span class="for-readers">first: version ${v.version}</span></label>
                <label><input type="radio" name="b" .checked=${v.version === b} @change=${() => ((b = v.version), show())} /> <span class="for-readers">second: version ${v.version}</span></label></td>` : nothing}
              <th scope="row">${v.version}</th><td>${whenWords(v.saved_at)}</td><td>${v.saved_by}</td><td>${v.why}</td>
              <td>${v.version === newest ? html`<span class="badge">now</span>` : data.user.role === "read" ? nothing : html`<button type="button" class="small" @click=${() => void restore(v.version)}>Restore<span class="for-readers"> version ${v.version}</span></button>`}</td>
            </tr>`,
          )}</tbody></table>
      </div>`,
      root,
    );
  }
  root.replaceChildren();
  show();
}
