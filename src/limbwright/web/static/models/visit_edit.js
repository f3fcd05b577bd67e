/**
 * A visit between the form's plain answers and the shape of the case file. What is left empty is left out. Pure.
 * @module
 */

export const CORTICES = ["medial", "lateral", "anterior", "posterior"];
const CLINICAL = [
  "knee_flexion_deg",
  "knee_extension_loss_deg",
  "ankle_dorsiflexion_deg",
  "ankle_dorsiflexion_knee_bent_deg",
  "pain_0_to_10",
  "weight_borne_kg",
  "therapy_done_percent",
];

/** @typedef {Record<string, string | boolean>} Answers field names to what stands in them */

/** A visit as the form's answers. @param {any} visit @param {string[]} bones @returns {Answers} */
export function answersOf(visit, bones) {
  /** @type {Answers} */
  const found = { note: visit.note ?? "", hardware_read: visit.hardware_read ?? false };
  /** @param {string} name @param {any} value */
  const put = (name, value) => {
    if (value !== undefined && value !== null) found[name] = typeof value === "boolean" ? value : String(value);
  };
  for (const bone of bones) {
    const of = (/** @type {any[]|undefined} */ list) => (list ?? []).find((e) => e.bone === bone);
    const gained = of(visit.gained);
    put(`${bone}.measured_mm`, gained?.measured_mm);
    put(`${bone}.reported_mm`, gained?.reported_mm);
    const alignment = of(visit.alignment);
    for (const part of ["frontal", "sagittal", "frontal_translation", "sagittal_translation"]) {
      put(`${bone}.${part}`, alignment?.[part]?.magnitude);
      put(`${bone}.${part}.direction`, alignment?.[part]?.direction);
    }
    const grown = of(visit.new_bone);
    for (const cortex of grown?.cortices ?? []) {
      put(`${bone}.${cortex.cortex}`, cortex.pixel_value_ratio);
      put(`${bone}.${cortex.cortex}.bridged`, cortex.bridged === undefined || cortex.bridged === null ? undefined : cortex.bridged ? "yes" : "no");
    }
    for (const part of ["width_ratio", "shape", "texture"]) put(`${bone}.${part}`, grown?.[part]);
  }
  put("head_distal_mm", visit.fibula?.head_distal_mm);
  put("malleolus_proximal_mm", visit.fibula?.malleolus_proximal_mm);
  for (const sign of visit.hardware ?? []) found[`hardware.${sign.bone}.${sign.kind}`] = true;
  const clinical = visit.clinical ?? {};
  for (const part of CLINICAL) put(part, clinical[part]);
  put("wound", clinical.wound);
  for (const part of ["joint_subluxation", "nerves_examined"]) found[part] = clinical[part] ?? false;
  for (const sign of clinical.nerve_signs ?? []) found[`nerve.${sign}`] = true;
  return found;
}

/**
 * The form's answers as a visit. What the form does not show (marks, films, uncertainties) is kept from the visit
 * it was opened with.
 * @param {Answers} answers @param {string[]} bones @param {string} seenOn @param {any} [before]
 */
export function visitOf(answers, bones, seenOn, before = {}) {
  const number = (/** @type {string} */ name) => {
    const text = String(answers[name] ?? "").trim();
    return text === "" ? undefined : Number(text);
  };
  const word = (/** @type {string} */ name) => (answers[name] ? String(answers[name]) : undefined);
  const kept = (/** @type {string} */ list, /** @type {string} */ bone) => ((before[list] ?? []).find((/** @type {any} */ e) => e.bone === bone) ?? { bone });
  const visit = { ...before, seen_on: seenOn };
  const listed = (/** @type {any[]} */ items) => items.filter((item) => Object.keys(item).length > 1);
  visit.gained = listed(bones.map((bone) => {
    const measured = number(`${bone}.measured_mm`);
    const old = kept("gained", bone);
    const same = measured === old.measured_mm;
    return known({ ...old, measured_mm: measured, measured_sd_mm: same ? old.measured_sd_mm : undefined, reported_mm: number(`${bone}.reported_mm`) });
  }));
  visit.alignment = listed(bones.map((bone) => {
    const parts = [["frontal", "deg"], ["sagittal", "deg"], ["frontal_translation", "mm"], ["sagittal_translation", "mm"]];
    return known({ ...kept("alignment", bone), ...Object.fromEntries(parts.map(([part, unit]) => [part, directed(number(`${bone}.${part}`), word(`${bone}.${part}.direction`), unit)])) });
  }));
  visit.new_bone = listed(bones.map((bone) => {
    const old = kept("new_bone", bone);
    const cortices = CORTICES.flatMap((cortex) => {
      const bridged = word(`${bone}.${cortex}.bridged`);
      const was = (old.cortices ?? []).find((/** @type {any} */ c) => c.cortex === cortex) ?? {};
      const ratio = number(`${bone}.${cortex}`);
      const read = known({ ...was, cortex, pixel_value_ratio: ratio, pixel_value_ratio_sd: ratio === was.pixel_value_ratio ? was.pixel_value_ratio_sd : undefined, bridged: bridged === undefined ? undefined : bridged === "yes" });
      return Object.keys(read).length > 1 ? [read] : [];
    });
    return known({ ...old, cortices: cortices.length ? cortices : undefined, width_ratio: number(`${bone}.width_ratio`), shape: word(`${bone}.shape`), texture: word(`${bone}.texture`) });
  }));
  const fibula = known({ ...before.fibula, head_distal_mm: number("head_distal_mm"), malleolus_proximal_mm: number("malleolus_proximal_mm") });
  visit.fibula = Object.keys(fibula).length ? fibula : undefined;
  visit.hardware_read = Boolean(answers.hardware_read);
  visit.hardware = Object.keys(answers).filter((k) => k.startsWith("hardware.") && answers[k]).map((k) => {
    const [, bone, kind] = k.split(".");
    return (before.hardware ?? []).find((/** @type {any} */ h) => h.bone === bone && h.kind === kind) ?? { kind, bone };
  });
  const signs = Object.keys(answers).filter((k) => k.startsWith("nerve.") && answers[k]).map((k) => k.slice("nerve.".length));
  const clinical = known({
    ...Object.fromEntries(CLINICAL.map((part) => [part, number(part)])),
    wound: word("wound"),
    joint_subluxation: answers.joint_subluxation ? true : undefined,
    nerves_examined: answers.nerves_examined || signs.length ? true : undefined,
    nerve_signs: signs.length ? signs : undefined,
  });
  visit.clinical = Object.keys(clinical).length ? clinical : undefined;
  visit.note = word("note");
  for (const list of ["gained", "alignment", "new_bone", "hardware"]) if (!visit[list].length) delete visit[list];
  return known(visit);
}

/** Angles and shifts carry a word; a number without its word cannot be told and is refused by the server.
 * @param {number|undefined} magnitude @param {string|undefined} direction @param {string} unit */
function directed(magnitude, direction, unit) {
  if (magnitude === undefined) return undefined;
  return { magnitude, direction: direction ?? (magnitude === 0 ? "none" : ""), unit };
}

/** Without what is not known. @param {any} value */
function known(value) {
  return Object.fromEntries(Object.entries(value).filter(([, v]) => v !== undefined && v !== null));
}

/** The form's field that a problem of the server is about; empty when it is none of them.
 * @param {string} path as `$.course.visits[3].alignment[0].frontal.magnitude` @param {any} visit what was sent */
export function fieldOf(path, visit) {
  const rest = path.replace(/^\$\.course\.visits\[\d+\]\.?/, "");
  const listed = rest.match(/^(gained|alignment|new_bone)\[(\d+)\]\.(.+)$/);
  if (listed) {
    const [, list, index, part] = listed;
    const entry = visit[list]?.[Number(index)];
    const cortex = part.match(/^cortices\[(\d+)\]/);
    if (cortex) return `${entry?.bone}.${entry?.cortices?.[Number(cortex[1])]?.cortex}`;
    return `${entry?.bone}.${part.replace(/\.(magnitude|unit)$/, "")}`;
  }
  return rest.replace(/^(clinical|fibula)\./, "");
}
