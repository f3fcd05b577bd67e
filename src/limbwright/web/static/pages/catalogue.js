/**
 * Hardware catalogue: what the practice owns, from its own file.
 * @module
 */
import { call, failureOf } from "../api.js";
import { html, nothing, render } from "../vendor/lit-html/lit-html.js";
import { trouble } from "../parts/findings.js";
import { sentence } from "../models/wording.js";

/** @param {any} data @param {HTMLElement} root */
export function start(data, root) {
  let catalogue = data.catalogue;
  let toml = catalogue.toml;
  let editing = false;
  /** @type {import("../api.js").Failure|null} */
  let failure = null;
  let said = "";
  const may = data.user.role === "sign";

  /** @param {() => Promise<any>} work @param {string} done */
  async function keep(work, done) {
    try {
      catalogue = await work();
      toml = catalogue.toml;
      failure = null;
      editing = false;
      said = done;
    } catch (error) {
      failure = failureOf(error);
    }
    show();
  }

  function show() {
    const nails = catalogue.nails;
    const kinds = [...new Set(nails.map((/** @type {any} */ n) => `${n.bone}, ${n.direction}`))];
    render(
      html`<div class="stack">
        <p><strong>${catalogue.title}</strong>${catalogue.invented ? html` <span class="badge">invented: nothing in it can be ordered</span>` : nothing}</p>
        <p class="quiet">${catalogue.note}</p>
        <div class="editor-bar">
          <button type="button" id="edit-catalogue" ?disabled=${!may} aria-expanded=${editing ? "true" : "false"} @click=${() => ((editing = !editing), show())}>${editing ? "Close the file" : "Edit the file"}</button>
          <label class="button">Read a file<input type="file" accept=".toml,text/plain" class="for-readers" ?disabled=${!may} @change=${async (/** @type {Event} */ e) => {
            const file = /** @type {HTMLInputElement} */ (e.target).files?.[0];
            if (!file) return;
            toml = await file.text();
            editing = true;
            show();
          }} /></label>
          <button type="button" ?disabled=${!may} @click=${() => void keep(() => call("POST", "/api/catalogue/reset", { base_version: catalogue.version }), "The shipped catalogue is back.")}>Back to the shipped one</button>
          <span class="quiet small" role="status">${said} version ${catalogue.version}${may ? "" : "; changing needs the role that signs"}</span>
        </div>
        ${editing
          ? html`<section class="card stack" aria-label="Catalogue file">
              <label class="field">The catalogue as a file; it is checked before it is kept
                <textarea id="catalogue-text" class="code" spellcheck="false" rows="24" .value=${toml} @input=${(/** @type {Event} */ e) => ((toml = /** @type {HTMLTextAreaElement} */ (e.target).value), (said = ""))}></textarea></label>
              ${trouble(failure)}
              <div class="row"><button type="button" class="strong" @click=${() => void keep(() => call("PUT", "/api/catalogue", { base_version: catalogue.version, toml, why: "" }), "Saved.")}>Check and save</button>
                <button type="button" @click=${() => ((toml = catalogue.toml), (failure = null), show())}>Forget changes</button></div>
            </section>`
          : trouble(failure)}
        ${kinds.map((kind) => html`<section class="card" aria-label="Nails: ${kind}"><h2>${kind}</h2>${nailTable(nails.filter((/** @type {any} */ n) => `${n.bone}, ${n.direction}` === kind))}</section>`)}
        ${catalogue.screws?.length ? html`<section class="card" aria-label="Screws"><h2>Screws</h2>${screwTable(catalogue.screws)}</section>` : nothing}
      </div>`,
      root,
    );
  }
  root.replaceChildren();
  show();
}

/** @param {any[]} nails */
function nailTable(nails) {
  return html`<table><thead><tr><th scope="col">Nail</th><th scope="col">Thick</th><th scope="col">Thin</th><th scope="col">Length</th><th scope="col">Stroke</th><th scope="col">Bend</th><th scope="col">Ream over</th><th scope="col">Weight limit</th></tr></thead>
    <tbody>${nails.map((n) => html`<tr><th scope="row">${n.name}</th><td>${n.thick_diameter_mm} mm</td><td>${n.thin_diameter_mm} mm</td><td>${n.length_mm} mm</td><td>${n.stroke_mm} mm</td><td>${n.bend_deg ? `${n.bend_deg}° at ${n.bend_depth_mm} mm` : "straight"}</td><td>${n.reamer_over_mm} mm</td><td>${n.weight_limit_kg ? `${n.weight_limit_kg} kg` : "by the profile"}</td></tr>`)}</tbody></table>`;
}

/** @param {any[]} screws */
function screwTable(screws) {
  const keys = Object.keys(screws[0]);
  return html`<table><thead><tr>${keys.map((k) => html`<th scope="col">${sentence(k.replace(/_mm$/, " [mm]").replaceAll("_", " "))}</th>`)}</tr></thead>
    <tbody>${screws.map((s) => html`<tr>${keys.map((k) => html`<td>${Array.isArray(s[k]) ? s[k].join(", ") : String(s[k] ?? "")}</td>`)}</tr>`)}</tbody></table>`;
}
