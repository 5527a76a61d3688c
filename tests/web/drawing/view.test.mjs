import assert from "node:assert/strict";
import test from "node:test";
import * as view from "../../../src/likesewn/web/drawing/browser/view.js";

const size = { width: 900, height: 600 };
const insets = { left: 36, top: 36, right: 12, bottom: 52 };
const bounds = [-20, -10, 780, 640];
const near = (a, b, within = 1e-9) => assert.ok(Math.abs(a - b) <= within, `${a} is not ${b} to within ${within}`);
const random = (seed) => () => {
  // a small generator with a fixed seed, so that a failure can be had again
  seed = (seed * 1664525 + 1013904223) % 4294967296;
  return seed / 4294967296;
};

test("scene and screen are each other's inverse", () => {
  const next = random(1);
  for (let i = 0; i < 200; i += 1) {
    const v = { scale: Math.exp(8 * next() - 4), x: 2000 * next() - 1000, y: 2000 * next() - 1000 };
    const at = [4000 * next() - 2000, 4000 * next() - 2000];
    const [x, y] = view.toScene(v, view.toScreen(v, at));
    near(x, at[0], 1e-6);
    near(y, at[1], 1e-6);
  }
});

test("fitting shows everything between the insets, and touches them one way", () => {
  for (const box of [bounds, [0, 0, 10, 900], [5, 5, 5000, 6]]) {
    const v = view.fitted(box, size, insets);
    const [left, top] = view.toScreen(v, box.slice(0, 2));
    const [right, bottom] = view.toScreen(v, box.slice(2));
    const slack = [left - insets.left, top - insets.top, size.width - insets.right - right, size.height - insets.bottom - bottom];
    for (const one of slack) assert.ok(one >= -1e-6, `sticks out by ${-one}`);
    near(slack[0], slack[2], 1e-6);
    near(slack[1], slack[3], 1e-6);
    near(Math.min(...slack), 0, 1e-6);
  }
});

test("fitting in no room and round a single point gives a finite view", () => {
  for (const v of [view.fitted(bounds, { width: 0, height: 0 }, insets), view.fitted([3, 3, 3, 3], size, insets)]) {
    assert.ok(Number.isFinite(v.scale) && v.scale > 0 && Number.isFinite(v.x) && Number.isFinite(v.y));
  }
});

test("zooming keeps the place under the pointer, at the limits too", () => {
  const next = random(2);
  const limits = view.reach(bounds, size, insets);
  let v = view.fitted(bounds, size, insets);
  for (let i = 0; i < 300; i += 1) {
    const point = [size.width * next(), size.height * next()];
    const before = view.toScene(v, point);
    v = view.zoomed(v, Math.exp(4 * next() - 2), point, limits);
    const after = view.toScene(v, point);
    near(after[0], before[0], 1e-6);
    near(after[1], before[1], 1e-6);
    assert.ok(v.scale >= limits.least - 1e-12 && v.scale <= limits.most + 1e-12);
  }
});

test("pinching carries both fingers' places with them", () => {
  const limits = { least: 1e-6, most: 1e6 };
  const v = { scale: 0.7, x: 40, y: -25 };
  const [before, after] = [[[100, 200], [300, 260]], [[50, 150], [450, 270]]];
  // the same direction between the fingers, so that size and place alone explain the move
  const w = view.pinched(v, before, [after[0], after[1]], limits);
  near(w.scale / v.scale, 2, 1e-9);
  for (const i of [0, 1]) {
    const [x, y] = view.toScreen(w, view.toScene(v, before[i]));
    near(x, after[i][0], 1e-6);
    near(y, after[i][1], 1e-6);
  }
});

test("two fingers on one point do not break the view", () => {
  const w = view.pinched({ scale: 1, x: 0, y: 0 }, [[5, 5], [5, 5]], [[5, 5], [9, 9]], { least: 0.1, most: 10 });
  assert.ok(Number.isFinite(w.scale) && w.scale <= 10);
});

test("however far one pans, some of the drawing stays in sight", () => {
  for (const [dx, dy] of [[1e5, 0], [-1e5, 0], [0, 1e5], [0, -1e5], [1e5, -1e5]]) {
    for (const scale of [0.01, 0.7, 30]) {
      const v = view.clamped({ scale, x: dx, y: dy }, bounds, size);
      const [left, top] = view.toScreen(v, bounds.slice(0, 2));
      const [right, bottom] = view.toScreen(v, bounds.slice(2));
      assert.ok(right > 0 && left < size.width && bottom > 0 && top < size.height, `${dx} ${dy} ${scale}`);
    }
  }
  const inside = view.fitted(bounds, size, insets);
  assert.deepEqual(view.clamped(inside, bounds, size), inside);
});

test("revealing moves no more than it must", () => {
  const v = { scale: 1, x: 0, y: 0 };
  assert.equal(view.revealed(v, [100, 100, 200, 200], size, insets), v);
  const right = view.revealed(v, [1000, 100, 1010, 110], size, insets, 16);
  near(view.toScreen(right, [1010, 0])[0], size.width - insets.right - 16);
  near(right.y, 0);
  const left = view.revealed(v, [-50, 100, -40, 110], size, insets, 16);
  near(view.toScreen(left, [-50, 0])[0], insets.left + 16);
});

test("the loupe is inside the drawing and clear of the finger", () => {
  for (const frame of [size, { width: 340, height: 300 }]) {
    for (let x = 0; x <= frame.width; x += 20) {
      for (let y = 0; y <= frame.height; y += 20) {
        const [lx, ly] = view.loupePlace([x, y], frame, 66);
        assert.ok(lx >= 66 && lx <= frame.width - 66 && ly >= 66 && ly <= frame.height - 66);
        assert.ok(Math.hypot(lx - x, ly - y) > 66, `the finger at ${x}, ${y} covers the loupe`);
      }
    }
  }
});

test("figures are what a tape shows", () => {
  for (const [value, unit, text] of [
    [0, "cm", "0"],
    [12.5, "cm", "12.5"],
    [-3, "cm", "\u22123"],
    [70, "mm", "70"],
    [0.125, "in", "1/8"],
    [1.5, "in", "1 1/2"],
    [19.25, "in", "19 1/4"],
    [-0.75, "in", "\u22123/4"],
    [7 / 16, "in", "7/16"],
    [36, "in", "36"],
  ]) {
    assert.equal(view.figure(value, unit), text);
  }
});

test("ruler marks are far enough apart, figures do not collide, and none is left out", () => {
  for (const unit of ["mm", "cm", "in"]) {
    const mm = { mm: 1, cm: 10, in: 25.4 }[unit];
    for (let density = 0.01; density < 40; density *= 1.3) {
      const marks = view.ticks(-200 / density, 1800 / density, density, unit);
      const long = marks.filter((m) => m.length === 2);
      assert.ok(long.length >= 2, `${unit} at ${density}`);
      assert.ok(marks.length < 500);
      for (let i = 1; i < marks.length; i += 1) {
        assert.ok((marks[i].at - marks[i - 1].at) * density >= 5 - 1e-6 || marks.length === long.length);
      }
      for (let i = 1; i < long.length; i += 1) {
        const gap = long[i].at - long[i - 1].at;
        assert.ok(gap * density >= 46 - 1e-6, `${unit} at ${density}: figures ${gap * density} px apart`);
        near(gap, long[1].at - long[0].at, 1e-6);
      }
      for (const mark of long) {
        assert.equal(mark.text, view.figure(mark.at / mm, unit));
        assert.ok(!mark.text.includes("NaN"));
      }
      assert.ok(marks.every((m) => (m.length === 2) === (m.text !== "")));
    }
  }
});

test("a ruler of one pixel to the mm marks centimetres and figures every five", () => {
  const marks = view.ticks(0, 200, 1, "cm");
  assert.deepEqual(marks.filter((m) => m.text).map((m) => m.text), ["0", "5", "10", "15", "20"]);
  assert.equal(marks.filter((m) => m.length === 1).length, 16);
});
