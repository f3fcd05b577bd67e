/**
 * Changes of a case document and of the alterations laid over its plan. Pure: every edit gives new objects.
 * @module
 */

/** @typedef {Record<string, any>} CaseDocument the documented case file */
/** @typedef {Record<string, any> & {kind: string}} Change */
/** @typedef {{case: CaseDocument, alterations: Change[]}} Draft what undo steps through and saving sends */

const INTO_GOAL = new Set(["osteotomy", "second-osteotomy", "osteotomies", "lengthening", "nail"]);
const GOAL_KEY = {
  osteotomy: ["osteotomy_below_joint_mm", "below_joint_mm"],
  "second-osteotomy": ["second_osteotomy_below_joint_mm", "below_joint_mm"],
  osteotomies: ["osteotomies", "count"],
  lengthening: ["lengthening_mm", "lengthening_mm"],
  nail: ["nail", "nail"],
};

/**
 * Put a change where it belongs: a landmark on its film, a level, length or nail into the goal, the rest over the plan.
 * @param {Draft} draft @param {Change} change
 * @param {{bone: string}[]} planned bones of the plan now; the first choice in the goal must name them all
 * @returns {Draft}
 */
export function changed(draft, change, planned) {
  if (change.kind === "landmark") return withLandmark(draft, change);
  if (INTO_GOAL.has(change.kind)) return withChoice(draft, change, planned);
  return { ...draft, alterations: laidOver(draft.alterations, change) };
}

/** @param {Draft} draft @param {Change} change @returns {Draft} */
function withLandmark(draft, change) {
  const films = draft.case.films.map((/** @type {any} */ film) => {
    if (film.name !== change.film) return film;
    const marks = { ...(film[change.side] ?? {}) };
    if (change.x_px === null) delete marks[change.landmark];
    else
      marks[change.landmark] = {
        x_px: hundredth(change.x_px),
        y_px: hundredth(change.y_px),
        provenance: marks[change.landmark] ? "edited" : "clicked",
      };
    return { ...film, [change.side]: marks };
  });
  return { ...draft, case: { ...draft.case, films } };
}

/** @param {Draft} draft @param {Change} change @param {{bone: string}[]} planned @returns {Draft} */
function withChoice(draft, change, planned) {
  const goal = draft.case.goal ?? {};
  const chosen = goal.bones?.length ? goal.bones : planned.map(({ bone }) => ({ bone }));
  const [key, from] = GOAL_KEY[/** @type {keyof typeof GOAL_KEY} */ (change.kind)];
  const value = change[from];
  const known = chosen.some((/** @type {any} */ b) => b.bone === change.bone) ? chosen : [...chosen, { bone: change.bone }];
  const bones = known.map((/** @type {any} */ b) => {
    if (b.bone !== change.bone) return b;
    const { [key]: _, ...rest } = b;
    return value === null ? rest : { ...rest, [key]: value };
  });
  return { ...draft, case: { ...draft.case, goal: { ...goal, bones } } };
}

/**
 * The latest change of one thing wins. Screws are counted, so a change of one is kept only while no screw has been
 * added or taken away since; later changes are laid on top.
 * @param {Change[]} alterations @param {Change} change @returns {Change[]}
 */
export function laidOver(alterations, change) {
  const naming = { path: ["bone", "fragment", "end", "projection"], pin: ["bone", "index"] }[change.kind];
  if (naming) {
    const same = (/** @type {Change} */ c) => c.kind === change.kind && naming.every((k) => c[k] === change[k]);
    return [...alterations.filter((c) => !same(c)), change];
  }
  if (change.kind === "blocking-screw") {
    const last = alterations.findLastIndex((c) => c.bone === change.bone && c.kind.endsWith("blocking-screw"));
    const before = alterations[last];
    if (before?.kind === "blocking-screw" && before.index === change.index)
      return [...alterations.slice(0, last), ...alterations.slice(last + 1), change];
  }
  return [...alterations, change];
}

/** Take one candidate or strategy as the goal; what was laid over the old plan does not fit the new one.
 * @param {Draft} draft @param {CaseDocument} goal @param {Change[]} [alterations] what belongs to the candidate @returns {Draft} */
export function withGoal(draft, goal, alterations = []) {
  return { case: { ...draft.case, goal: { ...(draft.case.goal ?? {}), ...goal } }, alterations };
}

/** Examination or goal; null takes a value away. @param {Draft} draft @param {"examination"|"goal"} part @param {CaseDocument} changes @returns {Draft} */
export function withPart(draft, part, changes) {
  const whole = { ...(draft.case[part] ?? {}), ...changes };
  for (const [key, value] of Object.entries(changes)) if (value === null) delete whole[key];
  return { ...draft, case: { ...draft.case, [part]: whole } };
}

/** Landmarks as the film itself shows them: put in as they came. @param {Draft} draft @param {string} name of the film @param {string} side @param {CaseDocument} marks @returns {Draft} */
export function withMarks(draft, name, side, marks) {
  const film = draft.case.films.find((/** @type {any} */ f) => f.name === name);
  return withFilm(draft, name, { [side]: { ...(film?.[side] ?? {}), ...marks } });
}

/** One more piece of evidence of a film's scale: ball, ruler or nail. @param {Draft} draft @param {string} name of the film @param {CaseDocument} evidence @returns {Draft} */
export function withScale(draft, name, evidence) {
  const film = draft.case.films.find((/** @type {any} */ f) => f.name === name);
  return withFilm(draft, name, { scale: { ...(film?.scale ?? {}), ...evidence } });
}

/** The calibration ball of a film, as marked by three points of its edge.
 * @param {Draft} draft @param {string} name of the film @param {{centre: [number, number], radius: number}} circle @param {number} diameter_mm @returns {Draft} */
export function withBall(draft, name, circle, diameter_mm) {
  const centre = { x_px: hundredth(circle.centre[0]), y_px: hundredth(circle.centre[1]), provenance: "clicked" };
  return withScale(draft, name, { ball: { diameter_mm, centre, radius_px: hundredth(circle.radius) } });
}

/** A film's other facts: scale, walls, side of the viewer. @param {Draft} draft @param {string} name @param {CaseDocument} facts */
export function withFilm(draft, name, facts) {
  const films = draft.case.films.map((/** @type {any} */ f) => (f.name === name ? { ...f, ...facts } : f));
  return { ...draft, case: { ...draft.case, films } };
}

/** Two drafts with the same content. @param {Draft} a @param {Draft} b */
export function same(a, b) {
  return a === b || JSON.stringify(a) === JSON.stringify(b);
}

/** @param {number} value */
function hundredth(value) {
  return Math.round(value * 100) / 100;
}
