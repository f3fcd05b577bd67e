import assert from "node:assert/strict";
import test from "node:test";
import { IDENTITY, after, apply, between, inverse, magnification } from "../../../src/limbwright/web/static/models/affine.js";
import { circleThrough } from "../../../src/limbwright/web/static/models/circle.js";
import { distalOf, pieces } from "../../../src/limbwright/web/static/models/cut.js";
import { levelFor, tilesIn } from "../../../src/limbwright/web/static/models/pyramid.js";
import { fitted, mmAt, screenFromMm, zoomedAt } from "../../../src/limbwright/web/static/models/view.js";

const near = (a, b, by = 1e-9) => assert.ok(Math.abs(a - b) < by, `${a} is not ${b}`);
const nearPoint = (p, q, by = 1e-9) => (near(p[0], q[0], by), near(p[1], q[1], by));
const area = (o) => Math.abs(o.reduce((s, p, i) => s + p[0] * o[(i + 1) % o.length][1] - o[(i + 1) % o.length][0] * p[1], 0)) / 2;
const turned = (deg, x, y) => {
  const [c, s] = [Math.cos((deg * Math.PI) / 180), Math.sin((deg * Math.PI) / 180)];
  return [[c, -s, x], [s, c, y]];
};

test("a map and its inverse take a point there and back", () => {
  const m = [[0.34, 0.02, -200], [0.01, -0.34, 580]];
  nearPoint(apply(inverse(m), apply(m, [611.2, 2901])), [611.2, 2901], 1e-6);
  nearPoint(apply(after(m, inverse(m)), [3, 4]), [3, 4], 1e-9);
  near(magnification(m), Math.sqrt(0.34 * 0.34 + 0.02 * 0.01));
});

test("a map that flattens the plane is refused", () => {
  assert.throws(() => inverse([[1, 2, 0], [2, 4, 0]]), /flattens/);
});

test("halfway between two rigid maps nothing is squeezed and the chosen point goes evenly", () => {
  const end = turned(20, 12, -30);
  const half = between(IDENTITY, end, 0.5, [5, -100]);
  near(magnification(half), 1);
  const goal = apply(end, [5, -100]);
  nearPoint(apply(half, [5, -100]), [(5 + goal[0]) / 2, (-100 + goal[1]) / 2]);
  nearPoint(apply(between(IDENTITY, end, 1, [5, -100]), [7, 7]), apply(end, [7, 7]));
});

test("zooming keeps what is under the pointer, whichever way the leg is hung", () => {
  for (const sign of [1, -1]) {
    const view = { zoom: 2, middle_across_mm: 10, middle_proximal_mm: -50 };
    const at = mmAt(screenFromMm(view, sign, 400, 300), [320, 40]);
    nearPoint(apply(screenFromMm(zoomedAt(view, 3, at), sign, 400, 300), at), [320, 40], 1e-9);
  }
});

test("a fitted box lies inside the pane", () => {
  const view = fitted({ low: [-40, -400], high: [60, 20] }, 470, 430);
  const map = screenFromMm(view, 1, 470, 430);
  for (const corner of [[-40, -400], [60, 20]]) {
    const [x, y] = apply(map, corner);
    assert.ok(x >= -1e-9 && x <= 470 + 1e-9 && y >= -1e-9 && y <= 430 + 1e-9);
  }
});

test("pieces of a cut film fill the film and lie on their own sides", () => {
  const film = [[-100, 200], [100, 200], [100, -600], [-100, -600]];
  const cuts = [
    { point_mm: [0, 80], along_mm: [1, 0.2] },
    { point_mm: [5, -130], along_mm: [-1, 0.1] },
  ];
  const found = pieces(film, cuts);
  assert.equal(found.length, 3);
  near(found.reduce((s, p) => s + area(p), 0), area(film), 1e-6);
  assert.ok(found[0].every((p) => distalOf(cuts[0], p) < 1e-9));
  assert.ok(found[2].every((p) => distalOf(cuts[1], p) > -1e-9));
});

test("a point straight below a cut is distal of it, whichever way the cut was drawn", () => {
  for (const along_mm of [[1, 0], [-1, 0], [1, 0.4], [-1, -0.4]]) {
    assert.ok(distalOf({ point_mm: [0, 0], along_mm }, [0, -10]) > 0);
    assert.ok(distalOf({ point_mm: [0, 0], along_mm }, [0, 10]) < 0);
  }
});

test("tiles of every level cover the film once, without gap or overlap", () => {
  const film = { width_px: 1192, height_px: 3178, tile_size: 512, max_level: 3 };
  for (let level = 0; level <= 3; level += 1) {
    const tiles = tilesIn(film, level, { low: [0, 0], high: [1192, 3178] });
    const covered = tiles.reduce((s, t) => s + t.wide_px * t.high_px, 0);
    const fold = 2 ** (3 - level);
    near(covered, Math.ceil(1192 / fold) * Math.ceil(3178 / fold) * fold * fold, 1e-6);
    assert.equal(new Set(tiles.map((t) => `${t.x}/${t.y}`)).size, tiles.length);
  }
  assert.equal(levelFor(film, 1), 3);
  assert.equal(levelFor(film, 0.01), 0);
  assert.equal(levelFor(film, 8), 3);
});

test("three points of a ball's edge give the ball; three on a line give none", () => {
  const at = (deg) => [595 + 36.5 * Math.cos(deg), 1726 + 36.5 * Math.sin(deg)];
  const ball = circleThrough(at(0.1), at(2), at(4.4));
  nearPoint(ball.centre, [595, 1726], 1e-6);
  near(ball.radius, 36.5, 1e-6);
  assert.equal(circleThrough([0, 0], [1, 1], [2, 2]), null);
  assert.equal(circleThrough([3, 3], [3, 3], [3, 3]), null);
});
