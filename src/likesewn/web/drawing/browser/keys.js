/**
 * The keyboard: moves and enlarges the drawing, goes from part to part, moves handles and places points.
 *
 * Only one thing in the drawing is a stop for Tab at a time. Tab from the drawing goes in, to its first part;
 * Tab from its last thing, or after Escape, goes on to what follows on the page.
 */

const PAN = 0.1; // of the drawing's smaller side
const PAN_FAR = 0.5;
const STEP = { near: 1, far: 10 }; // scene units
const ZOOM = 1.25;

const ARROWS = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1] };

/** Which of `order` Tab reaches from the one called `id` (empty: the drawing itself); null leaves. */
export function nextStop(order, id, back) {
  const i = order.findIndex((one) => one.id === id);
  if (i < 0) return back ? null : (order[0] ?? null);
  return order[i + (back ? -1 : 1)] ?? null;
}

/** The first thing of the next or last part; null where there is none. */
export function nextPart(order, id, back) {
  const i = order.findIndex((one) => one.id === id);
  const part = i < 0 ? null : order[i].part;
  const run = back ? order.slice(0, Math.max(i, 0)).reverse() : order.slice(i + 1);
  const other = run.find((one) => one.part !== part);
  return other ? order.find((one) => one.part === other.part) : null;
}

export class Keys {
  constructor(svg, board) {
    this.svg = svg;
    this.board = board;
    this.left = false; // Escape was pressed: Tab now leaves the drawing
    this.nudged = null;
    svg.addEventListener("keydown", this.press.bind(this));
    svg.addEventListener("keyup", this.lift.bind(this));
    svg.addEventListener("focusin", this.arrive.bind(this));
    svg.addEventListener("focusout", this.depart.bind(this));
  }

  get id() {
    const { activeElement } = this.svg.ownerDocument;
    return this.svg.contains(activeElement) ? (activeElement.dataset.id ?? "") : "";
  }

  press(event) {
    if (event.ctrlKey || event.metaKey || event.altKey) return;
    this.board.root.classList.add("lsd-focused");
    if (this.act(event)) {
      event.preventDefault();
      event.stopPropagation();
    }
  }

  act(event) {
    const { board } = this;
    const { id } = this;
    const arrow = ARROWS[event.key];
    if (arrow) {
      this.arrow(arrow, event.shiftKey, id);
      return true;
    }
    switch (event.key) {
      case "+":
      case "=":
        board.zoomBy(ZOOM, board.aim(id));
        return true;
      case "-":
      case "_":
        board.zoomBy(1 / ZOOM, board.aim(id));
        return true;
      case "0":
        board.fit();
        return true;
      case "Tab":
        return this.tab(event.shiftKey, id);
      case "PageDown":
      case "PageUp": {
        const part = nextPart(board.order, id, event.key === "PageUp");
        if (part) this.go(part);
        return Boolean(part);
      }
      case "Enter":
      case " ":
        if (board.mode === "place" && !id) board.placeAtCursor();
        else if (id) board.pick(id);
        return true;
      case "Escape":
        if (!id && this.left) return false;
        this.settle();
        this.svg.focus({ preventScroll: true });
        this.left = true;
        return true;
      default:
        return false;
    }
  }

  arrow([dx, dy], far, id) {
    const { board } = this;
    const step = far ? STEP.far : STEP.near;
    if (id && board.movable(id)) {
      this.nudged = id;
      board.nudge(id, dx * step, dy * step);
    } else if (board.mode === "place" && !id) {
      board.moveCursor(dx * step, dy * step);
    } else {
      const by = (far ? PAN_FAR : PAN) * Math.min(board.size.width, board.size.height);
      board.panBy(-dx * by, -dy * by);
    }
  }

  tab(back, id) {
    if (this.left && !id) return false;
    const stop = nextStop(this.board.order, id, back);
    if (stop) {
      this.go(stop);
      return true;
    }
    if (back && id) {
      this.svg.focus({ preventScroll: true });
      return true;
    }
    return false;
  }

  go(stop) {
    this.left = false;
    stop.node.focus({ preventScroll: true });
  }

  lift(event) {
    if (ARROWS[event.key]) this.settle();
  }

  settle() {
    if (this.nudged) this.board.nudged(this.nudged);
    this.nudged = null;
  }

  arrive(event) {
    this.stop(event.target);
    this.board.focused(event.target.dataset.id ?? "");
  }

  depart(event) {
    this.settle();
    if (this.svg.contains(event.relatedTarget)) return;
    this.left = false;
    this.stop(this.svg);
    this.board.focused(null);
  }

  /** Make one element the drawing's only stop for Tab. */
  stop(node) {
    for (const one of this.svg.querySelectorAll('[tabindex="0"]')) one.setAttribute("tabindex", "-1");
    if (node !== this.svg) this.svg.setAttribute("tabindex", "-1");
    node.setAttribute("tabindex", "0");
  }
}
