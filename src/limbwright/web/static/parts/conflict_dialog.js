/**
 * Two windows changed one case: what differs is shown, and each difference is settled by hand. Nothing is lost: both
 * versions stay in the history.
 * @module
 */
import { html, render } from "../vendor/lit-html/lit-html.js";
import { sentence } from "../models/wording.js";
import { setAt } from "../models/json_path.js";

/** @typedef {{path: string, words: string, theirs: any, yours: any, base?: any}} Difference */

/** @param {any} value */
function valueWords(value) {
  if (value === null || value === undefined) return "absent";
  if (typeof value === "number") return String(Math.round(value * 100) / 100);
  return typeof value === "object" ? JSON.stringify(value) : String(value);
}

/**
 * @param {HTMLDialogElement} dialog
 * @param {import("../api.js").Failure} failure of code conflict
 * @param {any} theirs as GET case @param {import("../models/case_edit.js").Draft} yours
 * @param {import("../models/case_edit.js").Draft} base what both began from
 * @param {(draft: import("../models/case_edit.js").Draft, words: string) => void} settle
 */
export function askConflict(dialog, failure, theirs, yours, base, settle) {
  /** @type {Difference[]} */
  const differs = failure.differs ?? [];
  const mine = new Set(differs.filter((d) => JSON.stringify(d.yours) !== JSON.stringify(d.base ?? null)).map((d) => d.path));
  const untouched = [...mine].sort().join();
  const theirDraft = { case: theirs.case, alterations: theirs.alterations ?? [] };
  const close = (/** @type {any} */ draft, /** @type {string} */ words) => {
    dialog.close();
    settle(draft, words);
  };
  const merged = () => {
    const alterations = JSON.stringify(yours.alterations) === JSON.stringify(base.alterations) ? theirDraft.alterations : yours.alterations;
    // As the server put both together, unless a choice was made by hand.
    const combined = /** @type {any} */ (failure).combined;
    if (combined && [...mine].sort().join() === untouched) return { case: combined, alterations };
    let whole = structuredClone({ ...theirDraft, alterations });
    for (const d of differs) if (mine.has(d.path)) whole = placed(whole, d);
    return whole;
  };
  const show = () =>
    render(
      html`<div class="stack">
        <h2>Changed in two places</h2>
        <p>${sentence(failure.found)} ${failure.next}</p>
        <table>
          <thead><tr><th scope="col">What differs</th><th scope="col">Theirs</th><th scope="col">Yours</th><th scope="col">Keep</th></tr></thead>
          <tbody>${differs.map(
            (d, i) => html`<tr>
              <th scope="row">${sentence(d.words)}</th><td>${valueWords(d.theirs)}</td><td>${valueWords(d.yours)}</td>
              <td><label><input type="radio" name="keep-${i}" .checked=${!mine.has(d.path)} @change=${() => (mine.delete(d.path), show())} /> theirs</label>
                <label><input type="radio" name="keep-${i}" .checked=${mine.has(d.path)} @change=${() => (mine.add(d.path), show())} /> yours</label></td>
            </tr>`,
          )}</tbody>
        </table>
        <div class="row">
          <button type="button" class="strong" @click=${() => close(merged(), "merged with the other window")}>Merge as marked</button>
          <button type="button" @click=${() => close(yours, "kept over the other window")}>Keep all of yours</button>
          <button type="button" @click=${() => close(theirDraft, "taken from the other window")}>Take all of theirs</button>
        </div>
        <p class="small quiet">Whichever you choose, both versions stay in the history and can be restored.</p>
      </div>`,
      dialog,
    );
  show();
  if (!dialog.open) dialog.showModal();
}

/** @param {any} whole @param {Difference} d */
function placed(whole, d) {
  if (d.path.startsWith("$.alterations") || d.path === "$.alterations") return setAt(whole, d.path, d.yours);
  return { ...whole, case: setAt(whole.case, d.path.replace(/^\$\.case(?=[.[]|$)/, "$"), d.yours) };
}
