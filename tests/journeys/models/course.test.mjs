import assert from "node:assert/strict";
import { test } from "node:test";

import { bandPath, dayTicks, lastDayOf, linePath, scale, ticks, valueRange, valueWords } from "../../../src/limbwright/web/static/models/chart_axes.js";
import { clicksSent, drawnMarks, missingWords, nextOf, wantedOn } from "../../../src/limbwright/web/static/models/film_clicks.js";
import { answersOf, fieldOf, visitOf } from "../../../src/limbwright/web/static/models/visit_edit.js";

const same = (v) => v;

test("ticks are round, inside, and about as many as asked for", () => {
  assert.deepEqual(ticks(0, 40, 4), [0, 10, 20, 30, 40]);
  assert.deepEqual(ticks(-7.3, 6.1, 4), [-5, 0, 5]);
  assert.deepEqual(ticks(0.65, 0.93, 4), [0.7, 0.8, 0.9]);
  assert.deepEqual(ticks(3, 3, 4), [3]);
  assert.deepEqual(dayTicks(60, 9), [0, 7, 14, 21, 28, 35, 42, 49, 56]);
  assert.equal(scale(0, 10, 100, 200)(5), 150);
});

test("a line ends where the axis ends, with the value of that day", () => {
  assert.equal(linePath([[0, 0], [10, 20]], same, same, 5), "M0.0 0.0L5.0 10.0");
  assert.equal(linePath([[0, 0], [10, 20]], same, same, 10), "M0.0 0.0L10.0 20.0");
  assert.equal(linePath([], same, same, 5), "");
});

test("a band goes out along the top and back along the bottom", () => {
  const points = [{ day: 1, value: 2, low: 1, high: 3 }, { day: 2, value: 3, low: 1, high: 5 }];
  assert.equal(bandPath(points, same, same, 2), "M1.0 3.0L2.0 5.0L2.0 1.0L1.0 1.0z");
  assert.equal(bandPath(points.slice(0, 1), same, same, 2), "");
});

const chart = (values, limits) => ({
  name: "length", unit: "mm", up: "", down: "", limits: limits.map((value) => ({ words: "", value })),
  series: [{ name: "", planned: [], measured: values.map((value, day) => ({ day, value, low: value - 1, high: value + 1 })), estimated: [], forecast: [] }],
});

test("limits near what is drawn are shown, far ones do not flatten it", () => {
  const [low, high] = valueRange(chart([0, 10], [12, 500]), 100);
  assert.ok(low < -1 && high > 12 && high < 14);
});

test("days beyond the axis do not widen the values", () => {
  const [, high] = valueRange(chart([0, 10, 90], []), 1);
  assert.ok(high < 12);
});

test("the axis ends with the last film of lengthening, or with healing", () => {
  const bone = { film_days: [14, 28, 56], visits: [{ day: 30 }], today: 20, last_day: 180 };
  assert.equal(lastDayOf(bone, "lengthening"), 60);
  assert.equal(lastDayOf(bone, "healing"), 180);
});

test("angles are said with their word, equinus without its sign", () => {
  const alignment = { name: "alignment", unit: "deg" };
  assert.equal(valueWords(alignment, { name: "frontal film" }, -4.9), "4.9° valgus");
  assert.equal(valueWords(alignment, { name: "sagittal film" }, 1.2), "1.2° procurvatum");
  assert.equal(valueWords(alignment, { name: "frontal film" }, 0.01), "0.0°");
  assert.equal(valueWords({ name: "motion", unit: "deg" }, { name: "ankle dorsiflexion, knee straight" }, -3), "3° equinus");
});

const VISIT = {
  seen_on: "2026-04-27",
  gained: [{ bone: "tibia", measured_mm: 27.6, measured_sd_mm: 0.4 }],
  films: ["day 42"],
  alignment: [{ bone: "tibia", frontal: { magnitude: 0.7, direction: "valgus", unit: "deg" }, angle_sd_deg: 0.8 }],
  new_bone: [{ bone: "tibia", cortices: [{ cortex: "medial", pixel_value_ratio: 0.7, bridged: false }], width_ratio: 1 }],
  fibula: { head_distal_mm: 1 },
  hardware_read: true,
  hardware: [{ kind: "screw broken", bone: "tibia", which: "distal locking screw" }],
  clinical: { ankle_dorsiflexion_deg: -3, nerves_examined: true, nerve_signs: ["numb sole"], pain_0_to_10: 0 },
};

test("a visit that is opened and saved untouched is the same visit", () => {
  assert.deepEqual(visitOf(answersOf(VISIT, ["tibia"]), ["tibia"], VISIT.seen_on, VISIT), VISIT);
});

test("what is emptied is left out, a nought is kept", () => {
  const answers = { ...answersOf(VISIT, ["tibia"]), "tibia.frontal": "", "tibia.measured_mm": "28", "hardware.tibia.screw broken": false };
  const visit = visitOf(answers, ["tibia"], VISIT.seen_on, VISIT);
  assert.equal(visit.alignment[0].frontal, undefined);
  assert.deepEqual(visit.gained, [{ bone: "tibia", measured_mm: 28 }]); // the old uncertainty belonged to the old reading
  assert.equal(visit.hardware, undefined);
  assert.equal(visit.clinical.pain_0_to_10, 0);
});

test("an empty form is a visit at which nothing was examined", () => {
  assert.deepEqual(visitOf({}, ["tibia", "femur"], "2026-05-11"), { seen_on: "2026-05-11", hardware_read: false });
});

test("a problem of the server finds its field", () => {
  assert.equal(fieldOf("$.course.visits[3].clinical.pain_0_to_10", VISIT), "pain_0_to_10");
  assert.equal(fieldOf("$.course.visits[3].alignment[0].frontal.magnitude", VISIT), "tibia.frontal");
  assert.equal(fieldOf("$.course.visits[3].alignment[0].frontal.direction", VISIT), "tibia.frontal.direction");
  assert.equal(fieldOf("$.course.visits[3].new_bone[0].cortices[0].pixel_value_ratio", VISIT), "tibia.medial");
  assert.equal(fieldOf("$.course.visits[3].seen_on", VISIT), "seen_on");
});

test("points of a film are asked for in order, and fragments all four or none", () => {
  const wanted = wantedOn("tibia", "frontal");
  assert.deepEqual(wanted.map((w) => w.name).slice(0, 3), ["nail_thick_end", "nail_junction", "nail_thin_end"]);
  assert.equal(wanted.length, 13);
  assert.equal(wantedOn("tibia", "sagittal").length, 11);
  assert.equal(wantedOn("femur", "frontal").length, 10);
  const clicks = { nail_thick_end: [1, 2], nail_junction: [1, 3], nail_thin_end: [1, 4] };
  assert.equal(nextOf(wanted, clicks, new Set()).name, "proximal_upper");
  assert.equal(nextOf(wanted, clicks, new Set(["proximal_upper"])).name, "cut_upper");
  assert.equal(missingWords(wanted, clicks), "");
  assert.match(missingWords(wanted, { nail_thick_end: [1, 2] }), /step from the thick/);
  assert.match(missingWords(wanted, { ...clicks, cut_upper: [1, 2] }), /all four/);
  assert.deepEqual(clicksSent({ a: [1.234, 5.678] }), { a: [1.2, 5.7] });
});

test("marks become lines and points, and say whether they were snapped", () => {
  const m = (x, y, provenance = "snapped") => ({ x_px: x, y_px: y, provenance });
  const drawn = drawnMarks({ nail_edges: [[m(1, 2), m(3, 2)]], nail_thick_end: m(2, 0), nail_thin_end: m(2, 9, "clicked"), distal_axis: [m(2, 5), m(2, 8)] });
  assert.deepEqual(drawn.lines.map((l) => l.what), ["diameter", "axis"]);
  assert.deepEqual(drawn.points.map((p) => p.snapped), [true, false]);
});
