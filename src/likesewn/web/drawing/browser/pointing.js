/**
 * Mouse, pen and fingers: turns pointer events into what they mean.
 *
 * One pointer moves the drawing, taps to pick, holds a handle, or places a point; two pinch. The drawing it
 * serves ("board") has: view, size, limits, mode, find(at, touch), and the actions called below.
 */

import { pinched, toScene, toScreen } from "./view.js";

const STILL = { mouse: 4, pen: 6, touch: 8 }; // a tap may wander this far, pixels
const WHEEL = 0.0016; // of the logarithm of the scale, for each pixel of the wheel
const PINCH_WHEEL = 0.01; // touchpads tell of a pinch as a wheel with the control key

export class Pointing {
  constructor(svg, board) {
    this.svg = svg;
    this.board = board;
    this.down = new Map(); // by pointer: where it is, pixels
    this.gesture = null;
    for (const [name, handler] of [
      ["pointerdown", this.press],
      ["pointermove", this.move],
      ["pointerup", this.lift],
      ["pointercancel", this.cancel],
      ["pointerleave", this.leave],
    ]) {
      svg.addEventListener(name, handler.bind(this));
    }
    svg.addEventListener("wheel", this.wheel.bind(this), { passive: false });
    svg.addEventListener("contextmenu", (event) => this.gesture && event.preventDefault());
  }

  where(event) {
    const box = this.svg.getBoundingClientRect();
    return [event.clientX - box.left, event.clientY - box.top];
  }

  press(event) {
    if (event.button > 1) return;
    const at = this.where(event);
    this.svg.setPointerCapture(event.pointerId);
    this.board.byPointer = true;
    this.svg.focus({ preventScroll: true });
    this.board.byPointer = false;
    event.preventDefault();
    this.down.set(event.pointerId, at);
    if (this.down.size === 2) {
      this.end(true);
      this.gesture = { is: "pinch" };
      this.board.point(null);
      return;
    }
    if (this.down.size > 2) return;
    const { board } = this;
    const touch = event.pointerType !== "mouse";
    const found = event.button === 0 && board.mode === "move" ? board.find(at, touch) : null;
    if (found?.kind === "handle" && found.movable) {
      const [hx, hy] = toScreen(board.view, found.at);
      this.gesture = { is: "hold", id: found.id, off: [hx - at[0], hy - at[1]], from: [...found.at], moved: false };
      board.holding(found.id, found.at, at, false);
    } else if (board.mode === "place" && touch) {
      this.gesture = { is: "place" };
      board.aiming(toScene(board.view, at), at);
    } else {
      this.gesture = { is: "press", from: at, last: at, still: STILL[event.pointerType] ?? STILL.touch, touch, main: event.button === 0 };
    }
  }

  move(event) {
    const at = this.where(event);
    const { board, gesture } = this;
    if (!this.down.has(event.pointerId)) {
      if (event.pointerType !== "touch") board.point(at);
      return;
    }
    const before = this.down.get(event.pointerId);
    if (gesture?.is === "pinch") {
      const others = [...this.down.entries()].slice(0, 2);
      const points = (moved) => others.map(([id, p]) => (id === event.pointerId ? moved : p));
      this.down.set(event.pointerId, at);
      board.look(pinched(board.view, points(before), points(at), board.limits));
      return;
    }
    this.down.set(event.pointerId, at);
    switch (gesture?.is) {
      case "hold": {
        gesture.moved = true;
        const place = toScene(board.view, [at[0] + gesture.off[0], at[1] + gesture.off[1]]);
        gesture.place = place;
        board.holding(gesture.id, place, at, true);
        break;
      }
      case "place":
        board.aiming(toScene(board.view, at), at);
        break;
      case "press":
        if (Math.hypot(at[0] - gesture.from[0], at[1] - gesture.from[1]) > gesture.still) {
          gesture.is = "pan";
          board.point(null);
          this.svg.classList.add("lsd-panning");
          board.panBy(at[0] - gesture.from[0], at[1] - gesture.from[1]);
        }
        break;
      case "pan":
        board.panBy(at[0] - before[0], at[1] - before[1]);
        break;
      default:
    }
  }

  lift(event) {
    if (!this.down.has(event.pointerId)) return;
    const at = this.where(event);
    this.down.delete(event.pointerId);
    const { board, gesture } = this;
    if (gesture?.is === "press" && gesture.main) board.tap(at, gesture.touch);
    if (gesture?.is === "place") board.placed(toScene(board.view, at));
    this.end(false);
  }

  cancel(event) {
    if (this.down.delete(event.pointerId)) this.end(true);
  }

  /** Finish what one pointer did; `back` puts a held handle where it was. */
  end(back) {
    const { gesture } = this;
    this.svg.classList.remove("lsd-panning");
    this.gesture = null;
    if (gesture?.is === "hold") {
      const place = back ? gesture.from : (gesture.place ?? gesture.from);
      this.board.released(gesture.id, place, gesture.moved);
    }
    if (gesture?.is === "place") this.board.aiming(null);
  }

  leave(event) {
    if (!this.down.has(event.pointerId)) this.board.point(null);
  }

  wheel(event) {
    event.preventDefault();
    const unit = event.deltaMode === 1 ? 16 : event.deltaMode === 2 ? this.board.size.height : 1;
    const [dx, dy] = [event.deltaX * unit, event.deltaY * unit];
    if (!event.ctrlKey && Math.abs(dx) > Math.abs(dy)) this.board.panBy(-dx, -dy);
    else this.board.zoomBy(Math.exp(-dy * (event.ctrlKey ? PINCH_WHEEL : WHEEL)), this.where(event));
  }
}
