import assert from "node:assert/strict";
import test from "node:test";
import { changed, laidOver, same, withBall, withGoal, withPart } from "../../../src/limbwright/web/static/models/case_edit.js";
import { allowed, planHandles } from "../../../src/limbwright/web/static/models/handles.js";
import { begun, done, redone, undone } from "../../../src/limbwright/web/static/models/history.js";
import { setAt, steps } from "../../../src/limbwright/web/static/models/json_path.js";
import { AS_IT_STANDS, dayMoment, instantAt, momentOf, motionsAt, positionOf, stepped } from "../../../src/limbwright/web/static/models/time_axis.js";
import { amountWords, counted, fixed, signedValue, whenWords } from "../../../src/limbwright/web/static/models/wording.js";
import { PLACES } from "../../../src/limbwright/web/static/models/landmark_places.js";

const draft = { case: { films: [{ name: "frontal", left: { ankle_centre: { x_px: 1, y_px: 2, provenance: "known" } } }], goal: {} }, alterations: [] };
const planned = [{ bone: "femur" }, { bone: "tibia" }];

test("the first choice of a level names every planned bone, so that none is dropped", () => {
  const next = changed(draft, { kind: "osteotomy", bone: "tibia", below_joint_mm: 95 }, planned);
  assert.deepEqual(next.case.goal.bones, [{ bone: "femur" }, { bone: "tibia", osteotomy_below_joint_mm: 95 }]);
  assert.deepEqual(draft.case.goal, {}, "the draft before is untouched");
  const again = changed(next, { kind: "nail", bone: "tibia", nail: "T" }, planned);
  assert.deepEqual(again.case.goal.bones[1], { bone: "tibia", osteotomy_below_joint_mm: 95, nail: "T" });
});

test("a moved landmark says it was edited, a new one that it was clicked, a removed one is gone", () => {
  const move = (landmark, x_px) => changed(draft, { kind: "landmark", film: "frontal", side: "left", landmark, x_px, y_px: 5.123456 }, []);
  assert.deepEqual(move("ankle_centre", 9.999).case.films[0].left.ankle_centre, { x_px: 10, y_px: 5.12, provenance: "edited" });
  assert.equal(move("medial_plateau", 3).case.films[0].left.medial_plateau.provenance, "clicked");
  assert.equal("ankle_centre" in move("ankle_centre", null).case.films[0].left, false);
});

test("the latest pull of one thing replaces the one before; screws are counted anew after one is added", () => {
  const path = (across_mm) => ({ kind: "path", bone: "tibia", fragment: "proximal", end: "upper", projection: "frontal", across_mm });
  assert.deepEqual(laidOver([path(1)], path(2)), [path(2)]);
  const screw = (from_osteotomy_mm) => ({ kind: "blocking-screw", bone: "tibia", index: 0, from_osteotomy_mm });
  assert.deepEqual(laidOver([screw(10)], screw(12)), [screw(12)]);
  const removed = { kind: "remove-blocking-screw", bone: "tibia", index: 0 };
  assert.equal(laidOver([screw(10), removed], screw(12)).length, 3);
});

test("taking a candidate drops what was laid over the old plan", () => {
  const next = withGoal({ ...draft, alterations: [{ kind: "path" }] }, { bones: [{ bone: "tibia" }] });
  assert.deepEqual(next.alterations, []);
  assert.deepEqual(next.case.goal.bones, [{ bone: "tibia" }]);
});

test("an emptied field takes the value away; a ball is kept beside the header's scale", () => {
  const examined = withPart(draft, "examination", { knee_flexion_deg: 120 });
  assert.equal(examined.case.examination.knee_flexion_deg, 120);
  assert.deepEqual(withPart(examined, "examination", { knee_flexion_deg: null }).case.examination, {});
  const film = withBall({ ...draft, case: { films: [{ name: "frontal", scale: { header: 1 } }] } }, "frontal", { centre: [1, 2], radius: 36.5 }, 25).case.films[0];
  assert.equal(film.scale.header, 1);
  assert.equal(film.scale.ball.radius_px, 36.5);
});

test("undo and redo go all the way and a new step ends the future", () => {
  let h = begun(0);
  for (let i = 1; i <= 200; i += 1) h = done(h, i, `step ${i}`);
  for (let i = 0; i < 250; i += 1) h = undone(h);
  assert.equal(h.now, 0);
  for (let i = 0; i < 150; i += 1) h = redone(h);
  assert.equal(h.now, 150);
  assert.equal(done(h, 7, "else").future.length, 0);
});

test("a value is set by its path, members of lists by their own names", () => {
  assert.deepEqual(steps("$.goal.bones[0].nail"), ["goal", "bones", 0, "nail"]);
  const whole = { goal: { bones: [{ bone: "tibia", nail: "A" }] }, films: [{ name: "frontal", x: 1 }] };
  assert.equal(setAt(whole, "$.goal.bones.tibia.nail", "B").goal.bones[0].nail, "B");
  assert.deepEqual(setAt(whole, "$.goal.bones.femur", { bone: "femur" }).goal.bones[1], { bone: "femur" });
  assert.deepEqual(setAt(whole, "$.films.frontal", null).films, []);
  assert.deepEqual(setAt({ goal: {} }, "$.goal.bones.tibia", { bone: "tibia" }), { goal: { bones: [{ bone: "tibia" }] } });
  assert.deepEqual(setAt({}, "$.goal.leave_short_mm", 5), { goal: { leave_short_mm: 5 } });
  assert.equal(whole.goal.bones[0].nail, "A", "the document before is untouched");
});

const axis = { first_day: 0, last_day: 160, events: [] };
const shift = (mm) => [[1, 0, 0], [0, 1, -mm]];
const moments = [
  { stage: "as it stands", day: null, total_gained_mm: 0, frontal: [shift(0), shift(0)], sagittal: null },
  { stage: "corrected", day: 0, total_gained_mm: 0, frontal: [shift(0), shift(2)], sagittal: null },
  { stage: "lengthening", day: 10, total_gained_mm: 5, frontal: [shift(0), shift(7)], sagittal: null },
];

test("positions on the strip and instants go there and back", () => {
  for (const day of [0, 1, 52, 160]) assert.deepEqual(instantAt(axis, positionOf(axis, { correction: 1, day })), { correction: 1, day });
  assert.deepEqual(instantAt(axis, 0), AS_IT_STANDS);
  assert.deepEqual(instantAt(axis, -1), AS_IT_STANDS);
  assert.equal(instantAt(axis, 2).day, 160);
});

test("stepping goes from as it stands through corrected into the days and stops at the ends", () => {
  let now = stepped(axis, AS_IT_STANDS, 1);
  assert.deepEqual(momentOf(now, axis), { stage: "corrected" });
  now = stepped(axis, now, 1);
  assert.deepEqual(momentOf(now, axis), { day: 1 });
  assert.deepEqual(stepped(axis, stepped(axis, now, -1), -1), AS_IT_STANDS);
  assert.equal(stepped(axis, { correction: 1, day: 160 }, 7).day, 160);
});

test("fragments stand still as it stands, go evenly while corrected, and follow their day", () => {
  const at = (instant) => motionsAt(moments, instant, "frontal", [[0, 0], [0, 0]]).map((m) => m[1][2] + 0);
  assert.deepEqual(at(AS_IT_STANDS), [0, 0]);
  assert.deepEqual(at({ correction: 0.5, day: 0 }), [0, -1]);
  assert.deepEqual(at({ correction: 1, day: 12 }).map(Math.abs), [0, 7]);
  assert.equal(dayMoment(moments, 3)?.stage, "corrected");
});

test("numbers are rounded to what is known and carry a word, never a bare sign", () => {
  assert.equal(amountWords({ deg: 8.28, direction: "valgus" }), "8.3° valgus");
  assert.equal(amountWords({ mm: 33.4, direction: "shorter" }), "33 mm shorter");
  assert.equal(amountWords({ mm: 0.2, direction: "none" }), "0 mm");
  assert.equal(amountWords(null), "not known");
  assert.equal(fixed(-0.04, 1), "0.0");
  assert.equal(fixed(-3.2, 1), "−3.2");
  assert.equal(signedValue({ measure: "MAD", mm: 15, direction: "lateral" }), -15);
  assert.equal(signedValue({ measure: "JLCA", deg: 1, direction: "lateral" }), 1);
  assert.equal(counted(1, "note"), "1 note");
  assert.equal(counted(2, "note"), "2 notes");
  assert.equal(whenWords("2026-03-02"), "2 Mar 2026");
});

test("an osteotomy can only be pulled along the bone, and a pull asks for the level it was pulled to", () => {
  const drawing = { shapes: [{ kind: "osteotomy", label: "", points_mm: [[-10, -130], [10, -130]], closed: false, radius_mm: null, bone: "tibia", fragment: "proximal", id: "osteotomy/tibia/proximal" }] };
  const bones = [{ bone: "tibia", osteotomy: { below_joint_mm: 130 }, path: {}, blocking_screws: [] }];
  const [handle] = planHandles(drawing, bones, "frontal");
  const moved = allowed(handle, [25, -12]);
  assert.deepEqual(moved.map((v) => Math.round(v) + 0), [0, -12]);
  assert.deepEqual(handle.change(moved), { kind: "osteotomy", bone: "tibia", below_joint_mm: 142 });
});

test("every landmark has a place on the figure of each plane it is seen in, and a hint", () => {
  for (const [name, place] of Object.entries(PLACES)) {
    assert.ok(place.frontal || place.sagittal, name);
    assert.ok(place.hint.length > 10, name);
    for (const [x, y] of [place.frontal, place.sagittal].filter(Boolean)) assert.ok(x > 0 && x < 120 && y > 0 && y < 300, name);
  }
  assert.ok(same(draft, structuredClone(draft)));
});
