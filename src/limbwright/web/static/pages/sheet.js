/**
 * Theatre sheet: large type, readable from two metres; drawings at the stages of the operation; full screen and print.
 * @module
 */
import { html, nothing, render } from "../vendor/lit-html/lit-html.js";
import { smallLeg } from "../parts/candidate_row.js";

/** @param {any} data @param {HTMLElement} root */
export function start(data, root) {
  const drawings = data.drawings ?? {};
  // A left leg's lateral side is hung at the viewer's right, a right leg's at the left.
  const sign = data.document.case.side === "left" ? 1 : -1;
  const bones = (data.plan?.bones ?? []).map((/** @type {any} */ b) => b.bone);
  const sheet = document.querySelector("#main");
  render(
    html`<div class="row sheet-tools">
        <button type="button" @click=${() => void sheet?.requestFullscreen?.()}>Full screen</button>
        <button type="button" @click=${() => window.print()}>Print</button>
      </div>
      ${data.plan
        ? html`<div class="sheet-drawings">${["as it stands", "corrected", "at full length"].map((stage) =>
            drawings[stage]?.frontal
              ? html`<figure><div class="row">${smallLeg(drawings[stage].frontal, /** @type {1|-1} */ (sign), bones)}${smallLeg(drawings[stage].sagittal, 1, bones)}</div><figcaption>${stage}</figcaption></figure>`
              : nothing,
          )}</div>`
        : nothing}`,
    root,
  );
}
