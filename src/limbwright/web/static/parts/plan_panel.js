/**
 * The plan in words and numbers: strategy, length, nail, screws; each can be altered here as well as on the film.
 * @module
 */
import { html, nothing } from "../vendor/lit-html/lit-html.js";
import { amountWords, sentence } from "../models/wording.js";
import { numberWords, trouble } from "./findings.js";

/** @typedef {import("../models/case_edit.js").Change} Change */

/**
 * @param {object} what @param {any} what.answer @param {any[]} what.alterations
 * @param {any} what.offer nail offer while dragging @param {(change: Change, words: string) => void} what.change
 * @param {(goal: any, words: string) => void} what.goal @param {any} what.goal_now
 */
export function planPanel({ answer, alterations, offer, change, goal, goal_now }) {
  const plan = answer?.plan;
  return html`<div class="stack">
    ${strategies(answer?.choice, goal, goal_now)}
    ${plan ? plan.bones.map((/** @type {any} */ bone) => bonePart(bone, change, offer, goal_now?.bones?.find((/** @type {any} */ b) => b.bone === bone.bone))) : html`<p class="hush">No plan yet: ${answer?.plan_absent?.found ?? "see the findings"} ${answer?.plan_absent?.next ?? ""}</p>`}
    ${alterations.length ? html`<p class="small quiet">${alterations.length} alterations laid over the proposal. <button type="button" class="plain small" @click=${() => goal(null, "back to the proposal")}>Back to the proposal</button></p>` : nothing}
    ${(answer?.alterations_refused ?? []).map((/** @type {any} */ r) => trouble(r.error))}
  </div>`;
}

/** @param {any} choice @param {(goal: any, words: string) => void} goal @param {any} goal_now */
function strategies(choice, goal, goal_now) {
  if (!choice) return nothing;
  return html`<section aria-label="Strategy">
    <h2>Strategy</h2>
    ${choice.reason ? html`<p class="small">${sentence(choice.reason)}</p>` : nothing}
    ${goal_now?.bones?.length ? html`<p class="small"><button type="button" @click=${() => goal({ bones: [] }, "bones left to the proposal")}>Leave the choice of bone to the proposal</button></p>` : nothing}
    <ul class="strategies">${choice.strategies.map((/** @type {any} */ s) => html`<li>
      <details class="why">
        <summary><span aria-hidden="true">${s.chosen ? "●" : "○"}</span> ${sentence(s.name)}
          ${s.chosen ? html`<span class="badge planned">chosen</span>` : s.name === choice.recommended ? html`<span class="badge">proposed</span>` : s.name === choice.runner_up ? html`<span class="badge">runner-up</span>` : nothing}
          ${s.excluded_because.length ? html`<span class="badge">excluded</span>` : nothing}</summary>
        <div class="reasons small">
          ${s.shares.map((/** @type {any} */ h) => html`<p>${sentence(h.bone)}: ${Math.round(h.lengthening_mm)} mm, ${h.percent_of_bone.toFixed(0)} % of the bone, ${h.direction}${h.corrects ? ", corrected" : ""}</p>`)}
          <p>Left at the end: ${amountWords(s.residual)}. Knee height: ${amountWords(s.knee_height)}.
            ${s.healed_days ? `Healed about day ${s.healed_days.typical} (${s.healed_days.low} to ${s.healed_days.high}).` : ""}</p>
          ${[...s.excluded_because, ...s.findings].map((/** @type {any} */ f) => html`<p>${f.words}</p>`)}
          ${s.chosen ? nothing : html`<button type="button" @click=${() => goal({ bones: s.shares.map((/** @type {any} */ h) => ({ bone: h.bone, direction: h.direction })) }, `strategy: ${s.name}`)}>Plan it this way</button>`}
        </div>
      </details></li>`)}</ul>
  </section>`;
}

/** @param {any} bone @param {(change: Change, words: string) => void} change @param {any} offer @param {any} chosen of this bone in the goal */
function bonePart(bone, change, offer, chosen) {
  const id = `bone-${bone.bone}`;
  const [low, high] = bone.limits?.lengthening_mm ?? [0, 200];
  const number = (/** @type {Event} */ e) => Number(/** @type {HTMLInputElement} */ (e.target).value);
  const stretches = (bone.limits?.osteotomy_below_joint_mm ?? []).map((/** @type {number[]} */ s) => `${s[0].toFixed(0)} to ${s[1].toFixed(0)} mm`).join(", ");
  return html`<section aria-labelledby=${id} class="stack bone-part">
    <h2 id=${id}>${bone.bone}</h2>
    <div class="bone-fields">
      <label class="field">Lengthen by [mm]
        <input type="number" step="0.5" min=${low} max=${high} .value=${String(bone.lengthening_mm)}
          @change=${(/** @type {Event} */ e) => change({ kind: "lengthening", bone: bone.bone, lengthening_mm: number(e) }, `lengthening of the ${bone.bone}`)} />
        <span class="hint">nail allows up to ${bone.nail.stroke_mm} mm</span></label>
      <label class="field">Osteotomy below the joint [mm]
        <input type="number" step="0.5" .value=${bone.osteotomy.below_joint_mm.toFixed(1)}
          @change=${(/** @type {Event} */ e) => change({ kind: "osteotomy", bone: bone.bone, below_joint_mm: number(e) }, `osteotomy of the ${bone.bone}`)} />
        <span class="hint">${stretches ? `may be cut ${stretches}` : ""}${bone.osteotomy.off_apex ? ` · ${amountWords(bone.osteotomy.off_apex)} of the apex` : ""}</span></label>
      <label class="field">Cut this bone
        <select @change=${(/** @type {Event} */ e) => change({ kind: "osteotomies", bone: bone.bone, count: Number(/** @type {HTMLSelectElement} */ (e.target).value) || null }, `osteotomies of the ${bone.bone}`)}>
          ${[["", "as proposed"], ["1", "once"], ["2", "twice"]].map(([value, words]) => html`<option value=${value} .selected=${value === String(chosen?.osteotomies ?? "")}>${words}</option>`)}
        </select><span class="hint">twice where one cut would leave an apex</span></label>
      ${bone.second
        ? html`<label class="field wide">Second osteotomy below the joint [mm]
            <input type="number" step="0.5" .value=${bone.second.osteotomy.below_joint_mm.toFixed(1)}
              @change=${(/** @type {Event} */ e) => change({ kind: "second-osteotomy", bone: bone.bone, below_joint_mm: number(e) }, `second osteotomy of the ${bone.bone}`)} />
            <span class="hint">corrected and fixed there, not lengthened; held by ${bone.second.hold}, ${bone.second.middle_length_mm.toFixed(0)} mm between the cuts. The lines of a bone that is cut twice follow from both levels and are not pulled.</span></label>`
        : nothing}
      <label class="field wide">Nail
        <select @change=${(/** @type {Event} */ e) => change({ kind: "nail", bone: bone.bone, nail: /** @type {HTMLSelectElement} */ (e.target).value }, `nail of the ${bone.bone}`)}>
          ${[...new Set([bone.nail.name, ...(bone.limits?.nails ?? [])])].map((n) => html`<option .selected=${n === bone.nail.name} value=${n}>${n}</option>`)}
        </select>
        <span class="hint">thick ${bone.nail.thick_diameter_mm} × ${bone.nail.length_mm} mm, thin ${bone.nail.thin_diameter_mm} mm, stroke ${bone.nail.stroke_mm} mm, ream to ${bone.reamer_mm} mm</span></label>
    </div>
    ${offer && offer.bone === bone.bone ? offerWords(offer) : nothing}
    ${screws(bone, change)} ${pins(bone, change)}
    <dl class="pairs small">
      <dt>Approach</dt><dd>${bone.direction}, ${bone.approach}; knee ${bone.knee_position}</dd>
      ${bone.rotation_correction ? html`<dt>Rotation corrected</dt><dd>${amountWords(bone.rotation_correction)}</dd>` : nothing}
      ${bone.fibula ? html`<dt>Fibula cut above the malleolus tip</dt><dd>${bone.fibula.osteotomy_above_ankle_mm.toFixed(0)} mm</dd>` : nothing}
      <dt>Weight on the leg, at most</dt><dd>${Math.round(bone.weight_limit_kg)} kg (${Math.round(bone.weight_limit_lb)} lb)</dd>
    </dl>
    ${why(bone)}
  </section>`;
}

/** @param {any} offer */
function offerWords(offer) {
  return html`<p class="small ${offer.fits ? "" : "trouble"}">${offer.nail} ${offer.fits ? "fits" : "does not fit"}: ${offer.numbers.map((/** @type {any} */ n) => `${n.name} ${numberWords(n)}`).join(", ")} ${offer.reasons.join(" ")}</p>`;
}

/** @param {any} bone @param {(change: Change, words: string) => void} change */
function screws(bone, change) {
  return html`<div class="stack tight">
    <h3>Blocking screws</h3>
    ${bone.blocking_screws.length ? nothing : html`<p class="quiet small">None planned.</p>`}
    <ul>${bone.blocking_screws.map((/** @type {any} */ s, /** @type {number} */ index) => html`<li class="row apart small">
      <span>${index + 1}. ${s.side}, ${s.fragment} fragment, ${s.diameter_mm.toFixed(1)} mm, ${s.direction}</span>
      <span class="row"><label><span class="for-readers">screw ${index + 1} from the osteotomy in mm</span>
        <input class="short" type="number" step="0.5" .value=${s.from_osteotomy_mm.toFixed(1)} @change=${(/** @type {Event} */ e) => change({ kind: "blocking-screw", bone: bone.bone, index, from_osteotomy_mm: Number(/** @type {HTMLInputElement} */ (e.target).value) }, `blocking screw ${index + 1}`)} /></label> mm from the cut
        <button type="button" class="plain" aria-label="remove blocking screw ${index + 1}" @click=${() => change({ kind: "remove-blocking-screw", bone: bone.bone, index }, `blocking screw ${index + 1} removed`)}>remove</button></span>
    </li>`)}</ul>
    <form class="row small" @submit=${(/** @type {SubmitEvent} */ e) => {
      e.preventDefault();
      const said = new FormData(/** @type {HTMLFormElement} */ (e.currentTarget));
      change({ kind: "add-blocking-screw", bone: bone.bone, fragment: said.get("fragment"), side: said.get("side"), from_osteotomy_mm: 12 }, `${said.get("side")} blocking screw added`);
    }}>One more:
      <select name="side" aria-label="side of the nail">${["medial", "lateral", "anterior", "posterior"].map((side) => html`<option>${side}</option>`)}</select>
      <select name="fragment" aria-label="fragment">${["proximal", "distal"].map((fragment) => html`<option>${fragment}</option>`)}</select>
      <button type="submit" class="small">Add<span class="for-readers"> a blocking screw to the ${bone.bone}</span></button></form>
  </div>`;
}

/** @param {any} bone @param {(change: Change, words: string) => void} change */
function pins(bone, change) {
  if (!bone.pins?.length) return nothing;
  const limits = new Map((bone.limits?.pins ?? []).map((/** @type {any} */ l) => [l.index, l.below_joint_mm]));
  return html`<div class="stack tight"><h3>Pins and rotation marks</h3>
    <ul>${bone.pins.map((/** @type {any} */ p, /** @type {number} */ index) => {
      const free = (limits.get(index) ?? []).map((/** @type {number[]} */ s) => `${s[0].toFixed(0)} to ${s[1].toFixed(0)}`).join(", ");
      return html`<li class="row apart small"><span>${index + 1}. ${p.role}, ${p.fragment} fragment, ${p.nail_side}, ${p.clearance_mm.toFixed(0)} mm clear${free ? html` <span class="quiet">free ${free} mm</span>` : nothing}</span>
        <span class="row"><label><span class="for-readers">pin ${index + 1} below the joint in mm</span>
          <input class="short" type="number" step="0.5" .value=${p.below_joint_mm.toFixed(1)} @change=${(/** @type {Event} */ e) => change({ kind: "pin", bone: bone.bone, index, below_joint_mm: Number(/** @type {HTMLInputElement} */ (e.target).value) }, `${p.role} moved`)} /></label> mm below the joint</span></li>`;
    })}</ul></div>`;
}

/** @param {any} bone */
function why(bone) {
  if (!bone.proposal) return nothing;
  return html`<details class="why small"><summary>why this nail and this level</summary>
    <div class="reasons stack tight">
      ${bone.proposal.reasons.map((/** @type {string} */ r) => html`<p>${sentence(r)}</p>`)}
      ${bone.proposal.nails.map((/** @type {any} */ n) => html`<p><strong>${n.nail}</strong> ${n.fits ? "fits" : "does not fit"}: ${n.numbers.map((/** @type {any} */ v) => `${v.name} ${numberWords(v)}`).join(", ")}. ${n.reasons.join(" ")}</p>`)}
    </div></details>`;
}
