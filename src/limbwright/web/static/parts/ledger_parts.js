/**
 * Around the ledger: what comes out in short, apexes, the cut, expected drift, what is worth measuring again. Every
 * value opens to its formula, what went into it, and where that comes from.
 * @module
 */
import { html, nothing } from "../vendor/lit-html/lit-html.js";
import { amountWords, counted, fixed, plain, sentence } from "../models/wording.js";
import { findingItem, numberWords, shape } from "./findings.js";

/** @typedef {import("../pages/table.js").LightTable} Table */
/** @typedef {{words: string, value: unknown, role?: string, formula: unknown, from?: unknown, source: string}} Pair */

const GEOMETRY = "Geometry of these films and this plan; nothing from outside.";
const TEXTBOOK = "Paley, Principles of Deformity Correction, 2002 (definition from memory).";

/** @param {Pair} pair */
function pairRow({ words, value, role = "planned-value", formula, from, source }) {
  return html`<details class="why pair"><summary><span>${words}</span><span class=${role}>${value}</span></summary>
    <dl class="reasons small"><dt>How</dt><dd>${formula}</dd>${from ? html`<dt>From</dt><dd>${from}</dd>` : nothing}<dt>Source</dt><dd>${source}</dd></dl></details>`;
}

/** @param {any} r */
function withSd(r) {
  const sd = r.sd_mm ?? r.sd_deg;
  return `${amountWords(r)}${sd === undefined || sd === null ? "" : ` (standard uncertainty ${fixed(sd, 1)}${r.deg === undefined ? " mm" : "°"})`}`;
}

/** @param {Table} table @param {any} stage of the outlook */
export function inShort(table, stage) {
  const { answer } = table.work;
  const difference = answer.measured?.difference;
  const bones = table.bonesNow;
  if (!difference?.total && !bones.length) return nothing;
  /** @type {Pair[]} */
  const pairs = [];
  if (difference?.total) {
    const parts = ["femur", "tibia", "foot", "joint_space_and_bending"].filter((k) => difference[k]).map((k) => `${plain(k)} ${amountWords(difference[k])}`);
    pairs.push({
      words: "Against the other leg, as it stands",
      value: amountWords(difference.total),
      role: "seen-value",
      formula: "hip to ankle of this leg minus that of the other, plus the difference of foot height where it was measured",
      from: `${withSd(difference.total)}; ${parts.join(", ")}; ${difference.same_film ? "both legs on one film, so an error of its scale falls out" : "legs on two films, each with its own scale"}`,
      source: GEOMETRY,
    });
  }
  if (stage?.length_against_other_leg)
    pairs.push({
      words: `Against the other leg, ${stage.name}`,
      value: amountWords(stage.length_against_other_leg),
      formula: "the difference as it stands, with the leg corrected and lengthened as planned",
      from: withSd(stage.length_against_other_leg),
      source: GEOMETRY,
    });
  for (const b of bones) pairs.push(...boneWhy(b, answer));
  return html`<section aria-labelledby="summary-head"><h2 id="summary-head">In short</h2>${pairs.map(pairRow)}</section>`;
}

/** @param {any} b bone of the plan @param {any} answer @returns {Pair[]} */
function boneWhy(b, answer) {
  const share = (answer.choice?.strategies ?? []).find((/** @type {any} */ s) => s.chosen)?.shares.find((/** @type {any} */ h) => h.bone === b.bone);
  /** @type {string[]} */
  const reasons = b.proposal?.reasons ?? [];
  const reason = (/** @type {string} */ start) => reasons.find((r) => r.startsWith(start));
  const nail = b.proposal?.nails.find((/** @type {any} */ n) => n.nail === b.nail.name);
  const profile = "Practice profile (overlap, margins, reaming) and hardware catalogue; each setting stands there with its source.";
  return [
    {
      words: sentence(b.bone),
      value: `${Math.round(b.lengthening_mm)} mm longer`,
      formula: "what the bone is to gain of the difference, after what the correction itself brings",
      from: share ? `${share.percent_of_bone.toFixed(0)} % of the bone. ${answer.choice.reason ? sentence(answer.choice.reason) : ""}` : "chosen by hand",
      source: "Practice profile (share of a bone, what is left alone); each setting stands there with its source.",
    },
    {
      words: `Osteotomy below the joint, ${b.bone}`,
      value: `${b.osteotomy.below_joint_mm.toFixed(0)} mm`,
      formula: reason("Osteotomy") ?? "as you placed it",
      from: b.osteotomy.off_apex ? `${amountWords(b.osteotomy.off_apex)} of the apex` : "no apex in this bone",
      source: profile,
    },
    ...(b.second
      ? [
          {
            words: `Second osteotomy below the joint, ${b.bone}`,
            value: `${b.second.osteotomy.below_joint_mm.toFixed(0)} mm`,
            formula: reasons.find((r) => r.startsWith("Two")) ?? "as you asked for it",
            from: `${b.second.osteotomy.off_apex ? `${amountWords(b.second.osteotomy.off_apex)} of the apex` : "at the apex"}; corrected and fixed, not lengthened; held by a ${b.second.hold}; ${b.second.middle_length_mm.toFixed(0)} mm between the two`,
            source: profile,
          },
        ]
      : []),
    {
      words: `Nail, ${b.bone}`,
      value: `${b.nail.name}, stroke ${b.nail.stroke_mm} mm`,
      formula: reason("Nail") ?? "as you chose it",
      from: nail ? nail.numbers.map((/** @type {any} */ v) => `${v.name} ${numberWords(v)}`).join(", ") : undefined,
      source: profile,
    },
  ];
}

/** @param {any[]|undefined} fast while a landmark is dragged @param {any} answer */
export function apexes(fast, answer) {
  const all = fast?.length
    ? fast
    : (answer.deformities ?? []).flatMap((/** @type {any} */ d) => d.planes.flatMap((/** @type {any} */ p) => p.apexes.map((/** @type {any} */ a) => ({ ...a, bone: d.bone, projection: p.projection, axes: p.axes }))));
  if (!all.length) return nothing;
  return html`<section aria-labelledby="apex-head"><h2 id="apex-head">Apexes</h2>
    ${all.map((/** @type {any} */ a) =>
      pairRow({
        words: `${sentence(a.bone)}, ${a.projection}`,
        value: `${amountWords(a)}${a.below_joint_mm === null || a.below_joint_mm === undefined ? (a.outcome ? `, ${a.outcome}` : "") : `, ${a.below_joint_mm.toFixed(0)} mm below the joint`}`,
        role: "seen-value",
        formula: "where the axes of the proximal and the distal part of the bone cross; the angle between them is the deformity",
        from: [
          withSd(a),
          a.below_joint_sd_mm ? `level ±${fixed(1.96 * a.below_joint_sd_mm, 0)} mm` : "",
          ...(a.axes ?? []).map((/** @type {any} */ x) => `${x.label}: ${x.construction ?? "as drawn"}`),
        ].filter(Boolean).join("; "),
        source: TEXTBOOK,
      }),
    )}</section>`;
}

/** @param {any[]|undefined} faces */
export function cutFaces(faces) {
  if (!faces?.length) return nothing;
  const row = (/** @type {string} */ words, /** @type {string} */ value, /** @type {string} */ formula) => pairRow({ words, value, formula, source: GEOMETRY });
  return html`<section aria-labelledby="faces-head"><h2 id="faces-head">At the osteotomy</h2>
    ${faces.map((f) => html`${row(`${sentence(f.bone)}${f.lengthens === false ? ", second osteotomy" : ""}, frontal turn`, amountWords(f.frontal_turn), "turn of the part below, that brings its nail line onto that of the part above, on the frontal film")}
      ${f.sagittal_turn ? row("Sagittal turn", amountWords(f.sagittal_turn), "the same on the sagittal film") : nothing}
      ${f.shift_frontal ? row("Shift", `${amountWords(f.shift_frontal)}${f.shift_sagittal ? `, ${amountWords(f.shift_sagittal)}` : ""}`, "where the distal bone end comes to lie beside the proximal one once both nail lines are one") : nothing}
      ${f.width_in_contact_percent === null || f.width_in_contact_percent === undefined ? nothing : row("Width in contact", `${Math.round(f.width_in_contact_percent)} %`, "share of the bone's outer width, as traced at the cut, that still lies end on end; the lesser of both films")}`)}</section>`;
}

/** Expected drift with what it rests on. @param {Table} table */
export function driftPart(table) {
  const { drift } = table.work;
  if (!drift?.bones?.length) return nothing;
  const notes = drift.findings.filter((/** @type {any} */ f) => f.severity === "note");
  const serious = drift.findings.filter((/** @type {any} */ f) => f.severity !== "note");
  return html`<section aria-labelledby="drift-head"><h2 id="drift-head">Expected drift</h2>
    ${drift.bones.flatMap((/** @type {any} */ bone) =>
      bone.planes.map((/** @type {any} */ plane) => {
        const end = plane.days.at(-1);
        return end
          ? pairRow({
              words: `${sentence(bone.bone)}, ${plane.plane}, day ${end.day}`,
              value: html`${fixed(end.low_deg, 1)} to ${fixed(end.high_deg, 1)}° ${plane.direction}`,
              role: "forecast-words",
              formula: "nail, screws and canal as an elastic construct under muscle pull, solved day by day over drawn inputs; 5th to 95th percentile",
              from: end.typical_deg === undefined ? undefined : `typical ${fixed(end.typical_deg, 1)}°`,
              source: drift.words,
            })
          : nothing;
      }),
    )}
    <p class="small quiet">${drift.words}</p>
    ${serious.length ? html`<ul>${serious.map((/** @type {any} */ f) => findingItem(f))}</ul>` : nothing}
    ${notes.length ? html`<details class="notes"><summary>${shape("note")} ${counted(notes.length, "note")} on drift</summary><ul>${notes.map((/** @type {any} */ f) => findingItem(f))}</ul></details>` : nothing}</section>`;
}

/** How sure it is that the end lies inside every tolerance, and what makes it unsure. @param {Table} table */
export function insidePart(table) {
  const uncertainty = table.work.search?.uncertainty;
  if (!uncertainty) return nothing;
  return html`<section aria-labelledby="inside-head"><h2 id="inside-head">How sure the end is</h2>
    ${pairRow({
      words: "Inside every tolerance",
      value: `${fixed(100 * uncertainty.probability_inside_all, 0)} %`,
      role: "forecast-words",
      formula: `share of ${uncertainty.draws.toLocaleString("en")} draws of marks, walls, loads and execution that end inside all tolerances`,
      from: html`<ul>${uncertainty.criteria.map((/** @type {any} */ c) => html`<li>${sentence(c.name)}: ${fixed(100 * c.probability, 0)} % within ${fixed(c.tolerance_mm ?? c.tolerance_deg, 1)}${c.tolerance_mm === undefined ? "°" : " mm"} of ${amountWords(c.target)}</li>`)}</ul>`,
      source: `Tolerances: practice profile, each with its source. ${uncertainty.validation}`,
    })}
    ${uncertainty.findings.filter((/** @type {any} */ f) => f.severity !== "note").length ? html`<ul>${uncertainty.findings.filter((/** @type {any} */ f) => f.severity !== "note").map((/** @type {any} */ f) => findingItem(f))}</ul>` : nothing}</section>`;
}

/** Inputs that the spread of the end result hangs on most; a landmark is one press away. @param {Table} table */
export function measureAgain(table) {
  const again = table.work.search?.measure_again ?? [];
  if (!again.length) return nothing;
  return html`<section aria-labelledby="again-head"><h2 id="again-head">Worth measuring again</h2>
    <p class="small quiet">What the spread of the end result hangs on most.</p>
    <ul class="again">${again.map((/** @type {any} */ one) => {
      const plane = /\((frontal|sagittal) film\)/.exec(one.words)?.[1];
      const task = one.landmark && table.tasks.find((t) => t.landmark === one.landmark && t.side === table.document.side && (!plane || t.projection === plane) && t.placed);
      const share = one.share_percent === null || one.share_percent === undefined ? "" : ` ${Math.round(one.share_percent)} %`;
      return html`<li class="row apart small"><span>${sentence(one.words)}<strong>${share}</strong></span>
        ${task ? html`<button type="button" class="plain small" @click=${() => table.goTo(task)}>go there<span class="for-readers">: ${one.words}</span></button>` : nothing}</li>`;
    })}</ul></section>`;
}
