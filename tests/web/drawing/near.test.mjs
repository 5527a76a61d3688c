import assert from "node:assert/strict";
import test from "node:test";
import { boxOf, distance, flattened, inside, target } from "../../../src/likesewn/web/drawing/browser/near.js";

const near = (a, b, within) => assert.ok(Math.abs(a - b) <= within, `${a} is not ${b} to within ${within}`);

test("paths are read as scenes write them", () => {
  assert.deepEqual(flattened("M0 0L10 0L10 5Z"), [[[0, 0], [10, 0], [10, 5], [0, 0]]]);
  assert.deepEqual(flattened("M-1.5 2L3 4M5 6L7.25 -8"), [[[-1.5, 2], [3, 4]], [[5, 6], [7.25, -8]]]);
  assert.deepEqual(flattened("M1e-07 0L1 1"), [[[1e-7, 0], [1, 1]]]);
  assert.deepEqual(flattened(""), []);
});

test("a curve keeps to its circle", () => {
  const k = (4 / 3) * (Math.sqrt(2) - 1) * 100;
  const [run] = flattened(`M100 0C100 ${k} ${k} 100 0 100`);
  assert.deepEqual(run.at(-1).map(Math.round), [0, 100]);
  for (const [x, y] of run) near(Math.hypot(x, y), 100, 0.03);
});

test("distance is to the line, not to its ends alone", () => {
  const runs = flattened("M0 0L100 0M0 50L0 90");
  near(distance(runs, [50, 7]), 7, 1e-12);
  near(distance(runs, [103, 4]), 5, 1e-12);
  near(distance(runs, [-3, 70]), 3, 1e-12);
  near(distance([[[3, 4]]], [0, 0]), 5, 1e-12);
});

test("inside is inside, holes are not", () => {
  const runs = flattened("M0 0L100 0L100 100L0 100ZM40 40L60 40L60 60L40 60Z");
  assert.ok(inside(runs, [10, 10]));
  assert.ok(!inside(runs, [50, 50]));
  assert.ok(!inside(runs, [150, 50]));
});

const one = (id, kind, d) => {
  const runs = d.startsWith("@") ? [[d.slice(1).split(",").map(Number)]] : flattened(d);
  return { id, kind, runs, box: boxOf(runs) };
};
const limits = { handle: 8, line: 6 };

test("handles come before lines, lines before pieces", () => {
  const all = [one("piece", "part", "M0 0L100 0L100 100L0 100Z"), one("edge", "line", "M0 0L100 0"), one("corner", "handle", "@0,0")];
  assert.equal(target(all, [3, 2], limits).id, "corner");
  assert.equal(target(all, [50, 4], limits).id, "edge");
  assert.equal(target(all, [50, -5], limits).id, "edge");
  assert.equal(target(all, [50, 50], limits).id, "piece");
  assert.equal(target(all, [50, -20], limits), null);
});

test("of two lines in reach the nearer one is meant, of two alike the upper one", () => {
  const all = [one("a", "line", "M0 0L100 0"), one("b", "line", "M0 4L100 4"), one("c", "line", "M0 4L100 4")];
  assert.equal(target(all, [50, 1], limits).id, "a");
  assert.equal(target(all, [50, 3], limits).id, "c");
});

test("of pieces that overlap the upper one is meant", () => {
  const all = [one("low", "part", "M0 0L100 0L100 100L0 100Z"), one("high", "part", "M50 0L150 0L150 100L50 100Z")];
  assert.equal(target(all, [75, 50], limits).id, "high");
  assert.equal(target(all, [25, 50], limits).id, "low");
});
