/**
 * Where the drawing is looked at from: arithmetic only, no document.
 *
 * A view is {scale, x, y}: a place of the scene shows at `place * scale + (x, y)` CSS pixels from the
 * left upper corner. Sizes are {width, height} in CSS pixels, bounds [left, top, right, bottom] in scene
 * units, insets {left, top, right, bottom} in CSS pixels: room that rulers and buttons take.
 */

export const toScreen = (view, [x, y]) => [x * view.scale + view.x, y * view.scale + view.y];

export const toScene = (view, [x, y]) => [(x - view.x) / view.scale, (y - view.y) / view.scale];

export const panned = (view, dx, dy) => ({ scale: view.scale, x: view.x + dx, y: view.y + dy });

/** The view that shows all of the bounds, in the middle of the room between the insets. */
export function fitted(bounds, size, insets) {
  const [left, top, right, bottom] = bounds;
  const wide = Math.max(size.width - insets.left - insets.right, 1);
  const high = Math.max(size.height - insets.top - insets.bottom, 1);
  const scale = Math.min(wide / Math.max(right - left, 1e-9), high / Math.max(bottom - top, 1e-9));
  return {
    scale,
    x: insets.left + wide / 2 - ((left + right) / 2) * scale,
    y: insets.top + high / 2 - ((top + bottom) / 2) * scale,
  };
}

/** How far out and in one may look: from a third of everything to single millimetres or picture points. */
export function reach(bounds, size, insets) {
  const whole = fitted(bounds, size, insets).scale;
  return { least: whole / 3, most: Math.max(whole * 40, 20) };
}

/** The view made larger by `factor` about a point of the screen, which keeps its place of the scene. */
export function zoomed(view, factor, [px, py], limits) {
  const scale = Math.min(Math.max(view.scale * factor, limits.least), limits.most);
  const by = scale / view.scale;
  return { scale, x: px - (px - view.x) * by, y: py - (py - view.y) * by };
}

/** The view after two fingers moved from `before` to `after`, each two points of the screen. */
export function pinched(view, before, after, limits) {
  const middle = ([a, b]) => [(a[0] + b[0]) / 2, (a[1] + b[1]) / 2];
  const apart = ([a, b]) => Math.hypot(a[0] - b[0], a[1] - b[1]);
  const [from, to] = [middle(before), middle(after)];
  const factor = apart(after) / Math.max(apart(before), 1);
  return zoomed(panned(view, to[0] - from[0], to[1] - from[1]), factor, to, limits);
}

/** The view moved so that some of the bounds stays in sight: at least `rest` pixels of it each way. */
export function clamped(view, bounds, size, rest = 48) {
  const [left, top, right, bottom] = bounds;
  const within = (offset, low, high, room) => {
    const most = room - rest - low * view.scale;
    const least = rest - high * view.scale;
    return Math.min(Math.max(offset, Math.min(least, most)), Math.max(least, most));
  };
  return {
    scale: view.scale,
    x: within(view.x, left, right, size.width),
    y: within(view.y, top, bottom, size.height),
  };
}

/** The view moved as little as needed for a box of the scene to be in sight; it is not made smaller. */
export function revealed(view, box, size, insets, rest = 16) {
  const shift = (low, high, from, to) => {
    if (high - low > to - from) return low > to ? to - low : high < from ? from - high : 0;
    if (low < from) return from - low;
    return high > to ? to - high : 0;
  };
  const [left, top] = toScreen(view, [box[0], box[1]]);
  const [right, bottom] = toScreen(view, [box[2], box[3]]);
  const dx = shift(left, right, insets.left + rest, size.width - insets.right - rest);
  const dy = shift(top, bottom, insets.top + rest, size.height - insets.bottom - rest);
  return dx || dy ? panned(view, dx, dy) : view;
}

/** Where the middle of a loupe stands: clear of the finger and inside the drawing, above it if it can be. */
export function loupePlace([px, py], size, radius, gap = 36) {
  const off = radius + gap;
  const inside = (v, room) => Math.min(Math.max(v, radius + 4), Math.max(room - radius - 4, radius + 4));
  const spots = [
    [px, py - off],
    [px - off, py - off * 0.6],
    [px + off, py - off * 0.6],
    [px - off, py],
    [px + off, py],
    [px, py + off],
  ].map(([x, y]) => [inside(x, size.width), inside(y, size.height)]);
  const clear = ([x, y]) => Math.hypot(x - px, y - py);
  return spots.find((spot) => clear(spot) >= radius + gap / 2) ?? spots.reduce((a, b) => (clear(b) > clear(a) ? b : a));
}

const MM = { mm: 1, cm: 10, in: 25.4 };

// steps of the rulers in their own unit, from fine to coarse: what a tape measure would show
const STEPS = {
  mm: [1, 2, 5, 10, 20, 50, 100, 200, 500, 1000, 2000, 5000, 10000],
  cm: [0.1, 0.5, 1, 2, 5, 10, 20, 50, 100, 200, 500, 1000],
  in: [1 / 16, 1 / 8, 1 / 4, 1 / 2, 1, 2, 3, 6, 12, 36, 72, 360],
};

/** A figure on a ruler: whole numbers, tenths of a centimetre, fractions of an inch. */
export function figure(value, unit) {
  const sign = value < 0 ? "\u2212" : "";
  const size = Math.abs(value);
  if (unit !== "in") return sign + String(Math.round(size * 10) / 10);
  let parts = Math.round(size * 16);
  let whole = 16;
  while (whole > 1 && parts % 2 === 0) {
    parts /= 2;
    whole /= 2;
  }
  const full = Math.floor(parts / whole);
  const rest = parts % whole;
  if (!rest) return sign + full;
  return `${sign}${full ? `${full} ` : ""}${rest}/${whole}`;
}

/**
 * The marks of a ruler between two places of the scene.
 *
 * `density` is CSS pixels to the mm. Returns {at (mm), length (0 short, 1 middle, 2 long), text} in order;
 * long marks carry figures, at least `apart` pixels from one another; no two marks are nearer than `close`.
 */
export function ticks(from, to, density, unit, { close = 5, apart = 46 } = {}) {
  const mm = MM[unit];
  const px = mm * density;
  const steps = STEPS[unit];
  const last = steps[steps.length - 1];
  const long = steps.find((s) => s * px >= apart) ?? last;
  const divides = (s) => Math.abs(long / s - Math.round(long / s)) < 1e-9;
  const short = steps.find((s) => s * px >= close && s <= long && divides(s)) ?? long;
  const between = steps.find((s) => {
    const n = s / short;
    return s > short && s < long && s * px >= close * 2 && divides(s) && Math.abs(n - Math.round(n)) < 1e-9;
  });
  const marks = [];
  const first = Math.ceil(from / mm / short - 1e-9);
  const end = Math.floor(to / mm / short + 1e-9);
  const every = (i, step) => step && Math.abs((i * short) / step - Math.round((i * short) / step)) < 1e-6;
  for (let i = first; i <= end; i += 1) {
    const length = every(i, long) ? 2 : every(i, between) ? 1 : 0;
    marks.push({ at: i * short * mm, length, text: length === 2 ? figure(i * short, unit) : "" });
  }
  return marks;
}
