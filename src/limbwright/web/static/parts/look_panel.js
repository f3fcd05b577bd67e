/**
 * How the films look: window and level for both, and which lines are drawn.
 * @module
 */
import { html, nothing } from "../vendor/lit-html/lit-html.js";

/** What can be switched off, and the kinds of shape it covers. @type {{name: string, kinds: string[]}[]} */
export const LAYERS = [
  { name: "axes and joint lines", kinds: ["mechanical axis", "bone axis", "joint line"] },
  { name: "bone walls", kinds: ["inner wall", "outer wall"] },
  { name: "nail and screws", kinds: ["nail line", "nail, thick part", "nail, thin part", "locking screw", "blocking screw", "pin"] },
  { name: "osteotomy and apex", kinds: ["osteotomy", "apex"] },
  { name: "expected drift on the moved film", kinds: ["expected drift"] },
  { name: "landmarks", kinds: ["landmark"] },
  { name: "labels", kinds: ["labels"] },
];

/**
 * @param {object} what @param {any} what.film header @param {any} what.look @param {(look: any) => void} what.setLook
 * @param {Set<string>} what.hidden @param {(kinds: string[], hide: boolean) => void} what.setHidden
 */
export function lookPanel({ film, look, setLook, hidden, setHidden }) {
  const now = look ?? film?.default_window;
  const [low, high] = film?.value_range ?? [0, 65535];
  const number = (/** @type {Event} */ e) => Number(/** @type {HTMLInputElement} */ (e.target).value);
  return html`<div class="stack">
    ${now
      ? html`<fieldset><legend>Window</legend>
          <label class="field">Brightness (level ${Math.round(now.centre)})
            <input type="range" min=${low} max=${high} step="1" .value=${String(now.centre)} @input=${(/** @type {Event} */ e) => setLook({ ...now, centre: number(e) })} /></label>
          <label class="field">Contrast (window ${Math.round(now.width)})
            <input type="range" min="1" max=${(high - low) * 1.2} step="1" .value=${String(now.width)} @input=${(/** @type {Event} */ e) => setLook({ ...now, width: Math.max(1, number(e)) })} /></label>
          <div class="row">
            <button type="button" @click=${() => setLook(null)}>As the film says</button>
            ${(film?.windows ?? []).slice(0, 4).map((/** @type {any} */ w) => html`<button type="button" @click=${() => setLook(w)}>${w.name || `level ${Math.round(w.centre)}, window ${Math.round(w.width)}`}</button>`)}
          </div></fieldset>`
      : nothing}
    <fieldset><legend>Lines</legend>
      ${LAYERS.map((l) => html`<label><input type="checkbox" .checked=${!l.kinds.some((k) => hidden.has(k))} @change=${(/** @type {Event} */ e) => setHidden(l.kinds, !(/** @type {HTMLInputElement} */ (e.target).checked))} /> ${l.name}</label>`)}
    </fieldset>
  </div>`;
}
