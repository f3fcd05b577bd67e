import assert from "node:assert/strict";
import test from "node:test";
import { laidOver, withMarks, withScale } from "../../../src/limbwright/web/static/models/case_edit.js";
import { driftOn, driftShapes, driftWords, swung } from "../../../src/limbwright/web/static/models/drift.js";
import { planHandles } from "../../../src/limbwright/web/static/models/handles.js";
import { beginning, fromShaftPoints, fromWalls, holds, withClick, withPin } from "../../../src/limbwright/web/static/models/trace.js";

const wall = (border, surface, x, ys, more = {}) => ({ side: "left", bone: "tibia", surface, border, x_px: ys.map(() => x), y_px: ys, ...more });

test("a trace begins from the shaft points that are marked, from proximal to distal, and not from one alone", () => {
  const mark = (x_px, y_px) => ({ x_px, y_px });
  const film = { left: { tibia_distal_shaft_lower: mark(5, 300), tibia_proximal_shaft_upper: mark(1, 100), femur_distal_shaft_lower: mark(9, 50) } };
  assert.deepEqual(fromShaftPoints(film, "left", "tibia"), { clicks_px: [[1, 100], [5, 300]], pins: [] });
  assert.equal(fromShaftPoints(film, "left", "femur"), null);
});

test("kept walls are taken up again along their middle with the reader's pins, also when they come in pieces", () => {
  const walls = [
    wall("medial", "outer", 10, [100, 150, 200]),
    wall("medial", "outer", 12, [260, 300]),
    wall("lateral", "outer", 30, [90, 180, 310], { pins: [[30.5, 180]] }),
    wall("lateral", "inner", 25, [90, 310]),
  ];
  const begun = fromWalls({ walls }, "left", "tibia");
  assert.deepEqual(begun.clicks_px[0], [20, 100]);
  assert.deepEqual(begun.clicks_px.at(-1), [21, 300]);
  assert.deepEqual(begun.pins, [{ x_px: 30.5, y_px: 180, surface: "outer", border: "lateral" }]);
  assert.equal(fromWalls({ walls: walls.slice(0, 2) }, "left", "tibia"), null, "one side alone has no middle");
  const left = { tibia_proximal_shaft_upper: { x_px: 20, y_px: 80 }, tibia_distal_shaft_lower: { x_px: 21, y_px: 400 } };
  const longer = beginning({ walls, left }, "left", "tibia");
  assert.deepEqual(longer, { clicks_px: [[20, 80], [21, 400]], pins: begun.pins }, "shaft points that reach farther win");
  assert.deepEqual(beginning({}, "left", "femur"), { clicks_px: [], pins: [] });
});

test("points along a shaft keep their order; a pin beside another on the same wall moves it, on another wall it stays", () => {
  assert.deepEqual(withClick([[0, 10], [0, 30]], [1, 20]), [[0, 10], [1, 20], [0, 30]]);
  const pin = (x_px, border) => ({ x_px, y_px: 100, surface: "outer", border });
  assert.equal(withPin([pin(10, "medial")], pin(12, "medial"), 6).length, 1);
  assert.equal(withPin([pin(10, "medial")], pin(12, "lateral"), 6).length, 2);
  assert.equal(withPin([pin(10, "medial")], pin(30, "medial"), 6).length, 2);
});

test("a wall can be taken hold of at even steps, across it", () => {
  const points_px = Array.from({ length: 101 }, (_, i) => [7, i]);
  const found = holds({ points_px }, 20);
  assert.equal(found.length, 5);
  for (const hold of found) assert.deepEqual(hold.across.map(Math.abs), [1, 0]);
});

test("what the film shows goes in as it came, beside what was there", () => {
  const draft = { case: { films: [{ name: "frontal", left: { ankle_centre: { x_px: 1, y_px: 2 } }, scale: { header: 1 } }] }, alterations: [] };
  const marks = { medial_plateau: { x_px: 3, y_px: 4, sd_px: 0.5, provenance: "snapped" } };
  const film = withMarks(draft, "frontal", "left", marks).case.films[0];
  assert.deepEqual(film.left, { ankle_centre: { x_px: 1, y_px: 2 }, ...marks });
  assert.deepEqual(withScale(draft, "frontal", { ruler: 2 }).case.films[0].scale, { header: 1, ruler: 2 });
});

test("the latest place of one pin wins, whatever was changed in between", () => {
  const pin = (index, below_joint_mm) => ({ kind: "pin", bone: "tibia", index, below_joint_mm });
  const all = laidOver(laidOver(laidOver([], pin(0, 30)), pin(1, 280)), pin(0, 34));
  assert.deepEqual(all, [pin(1, 280), pin(0, 34)]);
});

test("a pin slides along the nail's line of its fragment, distal being farther from the joint", () => {
  const shapes = [
    { kind: "nail line", bone: "tibia", fragment: "proximal", points_mm: [[0, 0], [0, -100]], id: null },
    { kind: "pin", bone: "tibia", fragment: "proximal", points_mm: [[-20, -30], [20, -30]], id: "pin/tibia/0" },
  ];
  const bone = { bone: "tibia", path: {}, blocking_screws: [], pins: [{ role: "holds the proximal fragment", fragment: "proximal", below_joint_mm: 30 }] };
  const [handle] = planHandles({ shapes }, [bone], "frontal");
  assert.deepEqual(handle.change([5, -4]), { kind: "pin", bone: "tibia", index: 0, below_joint_mm: 34 });
  assert.match(handle.words, /holds the proximal fragment/);
});

test("valgus takes the distal end lateral, procurvatum posterior; the wedge opens from the cut", () => {
  const [x, y] = swung([0, 0], [0, -100], 90);
  assert.ok(Math.abs(x - 100) < 1e-9 && Math.abs(y) < 1e-9);
  const plane = (name, direction) => ({ plane: name, direction, days: [{ day: 8, low_deg: 1, high_deg: 2 }] });
  const still = [[1, 0, 0], [0, 1, 0]];
  const cut = { point_mm: [0, -100], along_mm: [1, 0] };
  const work = {
    drift: { bones: [{ bone: "tibia", planes: [plane("frontal", "valgus"), plane("sagittal", "procurvatum")] }] },
    days: { fragments: ["above", "below tibia"], cuts: [{ bone: "tibia", frontal: cut, sagittal: cut }], moments: [{ stage: "corrected", day: null, frontal: [still, still], sagittal: [still, still] }] },
    draft: { case: { films: [{ name: "f", left: { ankle_centre: { x_px: 0, y_px: -300 } } }] } },
  };
  const shown = { name: "f", side: "left", mm_from_px: still };
  const [frontal] = driftShapes(work, { correction: 1, day: 10 }, shown, "frontal");
  assert.ok(frontal.points_mm[1][0] > 0 && frontal.points_mm[2][0] > frontal.points_mm[1][0]);
  const [sagittal] = driftShapes(work, { correction: 1, day: 10 }, shown, "sagittal");
  assert.ok(sagittal.points_mm[2][0] < sagittal.points_mm[1][0]);
  assert.deepEqual(driftShapes(work, { correction: 0, day: 0 }, shown, "frontal"), [], "nothing drifts before it is cut");
  assert.deepEqual(driftWords(work.drift, 30), ["1.0 to 2.0° valgus", "1.0 to 2.0° procurvatum"]);
  assert.equal(driftOn(work.drift.bones[0].planes[0].days, 7), null);
});
