/**
 * Which line lies nearest to a point: arithmetic only, no document.
 *
 * Lines are read from path data of absolute M, L, C and Z, as scenes have them.
 */

const CURVE_STEPS = 16;

/** Points along a path, an array of runs of [x, y]; curves in 16 steps, near enough for pointing. */
export function flattened(d) {
  const runs = [];
  let run = null;
  for (const [, command, rest] of d.matchAll(/([MLCZ])([^MLCZ]*)/g)) {
    const n = rest.match(/-?[\d.]+(?:e-?\d+)?/g)?.map(Number) ?? [];
    if (command === "M") {
      run = [[n[0], n[1]]];
      runs.push(run);
      for (let i = 2; i + 1 < n.length; i += 2) run.push([n[i], n[i + 1]]);
    } else if (command === "L") {
      for (let i = 0; i + 1 < n.length; i += 2) run.push([n[i], n[i + 1]]);
    } else if (command === "C") {
      for (let i = 0; i + 5 < n.length; i += 6) curve(run, n.slice(i, i + 6));
    } else if (run) {
      run.push([...run[0]]);
    }
  }
  return runs;
}

function curve(run, [ax, ay, bx, by, cx, cy]) {
  const [ox, oy] = run[run.length - 1];
  for (let i = 1; i <= CURVE_STEPS; i += 1) {
    const t = i / CURVE_STEPS;
    const u = 1 - t;
    const [p, q, r, s] = [u * u * u, 3 * u * u * t, 3 * u * t * t, t * t * t];
    run.push([p * ox + q * ax + r * bx + s * cx, p * oy + q * ay + r * by + s * cy]);
  }
}

/** The box round runs of points: [left, top, right, bottom]. */
export function boxOf(runs) {
  const box = [Infinity, Infinity, -Infinity, -Infinity];
  for (const run of runs) {
    for (const [x, y] of run) {
      box[0] = Math.min(box[0], x);
      box[1] = Math.min(box[1], y);
      box[2] = Math.max(box[2], x);
      box[3] = Math.max(box[3], y);
    }
  }
  return box;
}

/** How far a point is from runs of points. */
export function distance(runs, [px, py]) {
  let best = Infinity;
  for (const run of runs) {
    if (run.length === 1) best = Math.min(best, Math.hypot(run[0][0] - px, run[0][1] - py));
    for (let i = 1; i < run.length; i += 1) {
      const [ax, ay] = run[i - 1];
      const [dx, dy] = [run[i][0] - ax, run[i][1] - ay];
      const size = dx * dx + dy * dy;
      const t = size ? Math.min(Math.max(((px - ax) * dx + (py - ay) * dy) / size, 0), 1) : 0;
      best = Math.min(best, Math.hypot(ax + t * dx - px, ay + t * dy - py));
    }
  }
  return best;
}

/** True where a point lies inside the closed runs (even-odd rule). */
export function inside(runs, [px, py]) {
  let within = false;
  for (const run of runs) {
    for (let i = 0, j = run.length - 1; i < run.length; j = i, i += 1) {
      const [ax, ay] = run[i];
      const [bx, by] = run[j];
      if (ay > py !== by > py && px < ((bx - ax) * (py - ay)) / (by - ay) + ax) within = !within;
    }
  }
  return within;
}

/**
 * What a point means: of targets {id, kind, runs, box}, in drawing order, the nearest handle within
 * `handle` scene units, else the nearest line within `line`, else the topmost outline round it; or null.
 */
export function target(targets, at, { handle, line }) {
  let best = null;
  let least = Infinity;
  for (const kind of ["handle", "line"]) {
    const limit = kind === "handle" ? handle : line;
    for (const one of targets) {
      if (one.kind !== kind || outside(one.box, at, limit)) continue;
      const far = distance(one.runs, at);
      if (far <= limit && far <= least) [best, least] = [one, far];
    }
    if (best) return best;
  }
  for (const one of targets) {
    if (one.kind === "part" && !outside(one.box, at, 0) && inside(one.runs, at)) best = one;
  }
  return best;
}

function outside([left, top, right, bottom], [x, y], limit) {
  return x < left - limit || x > right + limit || y < top - limit || y > bottom + limit;
}
