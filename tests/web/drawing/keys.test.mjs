import assert from "node:assert/strict";
import test from "node:test";
import { nextPart, nextStop } from "../../../src/likesewn/web/drawing/browser/keys.js";

const order = [
  { id: "front", part: "front" },
  { id: "front.neckline", part: "front" },
  { id: "front.hem", part: "front" },
  { id: "back", part: "back" },
  { id: "back.hem", part: "back" },
  { id: "corner", part: "" },
];

test("Tab walks through everything once and then leaves", () => {
  const seen = [];
  for (let stop = nextStop(order, "", false); stop; stop = nextStop(order, stop.id, false)) seen.push(stop.id);
  assert.deepEqual(seen, order.map((one) => one.id));
  assert.equal(nextStop(order, "corner", false), null);
});

test("Tab backwards goes the same way, and out at the first", () => {
  assert.equal(nextStop(order, "back", true).id, "front.hem");
  assert.equal(nextStop(order, "front", true), null);
  assert.equal(nextStop(order, "", true), null);
});

test("an empty drawing has nowhere to go", () => {
  assert.equal(nextStop([], "", false), null);
  assert.equal(nextPart([], "", false), null);
});

test("pages go from part to part, to the first thing of each", () => {
  assert.equal(nextPart(order, "", false).id, "front");
  assert.equal(nextPart(order, "front.neckline", false).id, "back");
  assert.equal(nextPart(order, "back.hem", true).id, "front");
  assert.equal(nextPart(order, "back.hem", false).id, "corner");
  assert.equal(nextPart(order, "front.hem", true), null);
});

test("something that is gone from the scene starts over", () => {
  assert.equal(nextStop(order, "sleeve", false).id, "front");
});
