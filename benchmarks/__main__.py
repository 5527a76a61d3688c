"""Runs every benchmark and prints one table; `--write FILE` keeps it with the date."""

import argparse
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from datetime import date
from pathlib import Path as File

import numpy as np
from scipy.integrate import quad
from scipy.optimize import minimize

from likesewn.examples import example_text
from likesewn.garment import Record, TracedPoints, load_kind, read_garment
from likesewn.geometry import Path, point_at
from likesewn.truing import Untrued, true
from likesewn.truing.pattern import solved
from likesewn.truing.problem import Problem

REPEATED = {"shoulder", "side", "back armhole"}
"""Conditions that the others or the shared unknowns repeat."""

Row = tuple[str, str, str, str, str]


def best(function: Callable[[], object], repeats: int) -> float:
    """Return the shortest of several runs, in seconds."""
    times = []
    for _ in range(repeats):
        started = time.perf_counter()
        function()
        times.append(time.perf_counter() - started)
    return min(times)


def example() -> Record:
    return read_garment(example_text("throwing-top"), "throwing-top.toml")


def traced(record: Record) -> Record:
    """Return the record with 400 points along its pattern's edges."""
    kind = load_kind(record.kind)
    pattern = true(record, kind)
    if isinstance(pattern, Untrued):
        raise SystemExit(pattern.reason)
    rng = np.random.default_rng(1)
    edges = [(p.name, e) for p in pattern.pieces if p.name != "back" for e in p.edges if not e.fold]
    entries = []
    for name, edge in edges:
        at = point_at(edge.path, np.linspace(0, edge.path.length, 50)) + rng.normal(0, 1, (50, 2))
        entries.append(TracedPoints(name, edge.name, at, 1.0))
    return Record(record.name, record.kind, tape=record.tape, points=tuple(entries))


def truing() -> list[Row]:
    record, kind = example(), load_kind(example().kind)
    true(record, kind)
    ours = best(lambda: true(record, kind), 10)
    with_points = traced(record)
    true(with_points, kind)
    pointed = best(lambda: true(with_points, kind), 5)
    # the same solve at a full prior weight, at which a general solver finds its way too
    problem = Problem(kind, record)
    start = problem.start()
    prior = problem.prior(start, 1.0)
    P, p = prior

    def misfit(x: np.ndarray) -> float:
        residuals, rest = problem.evaluate(x, 1.0).residuals, P @ x - p
        return 0.5 * float(residuals @ residuals + rest @ rest)

    gaps = {"type": "eq", "fun": lambda x: problem.evaluate(x, 1.0).gaps}
    found = []

    def by_slsqp() -> None:
        # one of the two armholes says what the other says, which SLSQP cannot take
        rows = [i for i, c in enumerate(problem.conditions) if c.name not in REPEATED]
        some = gaps | {"fun": lambda x: problem.evaluate(x, 1.0).gaps[rows]}
        options = {"maxiter": 200, "ftol": 1e-9}
        found.append(minimize(misfit, start, method="SLSQP", constraints=[some], options=options))

    solo = best(lambda: solved(problem, prior, start, (1.0,)), 5)
    slsqp = best(by_slsqp, 1)
    gap = np.abs(problem.evaluate(found[0].x, 1.0).gaps).max()
    what = f"SLSQP, numerical derivatives: {found[0].nit} steps, largest gap {gap:.1e} mm"
    points = sum(len(entry.at) for entry in with_points.points)
    return [
        (
            "the solve alone, from tape",
            f"{1e3 * solo:.0f} ms",
            f"{1e3 * slsqp:.0f} ms ({what})",
            f"{solo / slsqp:.4f}",
            "",
        ),
        (
            f"truing a top from tape and {points} points",
            f"{1e3 * pointed:.0f} ms",
            f"{1e3 * ours:.0f} ms (from tape alone)",
            f"{pointed / ours:.2f}",
            "25 ms",
        ),
    ]


def length() -> list[Row]:
    rng = np.random.default_rng(2)
    ctrl = rng.normal(0, 100, (300, 4, 2))
    path_lengths = [Path(c[None]).length for c in ctrl]
    ours = best(lambda: [Path(c[None]).length for c in ctrl], 3)

    def speed(t: float, c: np.ndarray) -> float:
        d = 3 * ((1 - t) ** 2 * (c[1] - c[0]) + 2 * t * (1 - t) * (c[2] - c[1]) + t * t * (c[3] - c[2]))
        return float(np.hypot(*d))

    def by_quad() -> list[float]:
        return [quad(speed, 0, 1, args=(c,), epsabs=0, epsrel=1e-12, limit=500)[0] for c in ctrl]

    theirs = best(by_quad, 1)
    error = max(abs(a - b) / b for a, b in zip(path_lengths, by_quad(), strict=True))
    return [
        (
            f"length of 300 random cubics, relative error {error:.1e}",
            f"{1e3 * ours:.0f} ms",
            f"{1e3 * theirs:.0f} ms (scipy quad)",
            f"{ours / theirs:.3f}",
            "error 1e-9",
        )
    ]


def make() -> list[Row]:
    with tempfile.TemporaryDirectory() as folder:
        file = File(folder) / "top.toml"
        file.write_text(example_text("throwing-top"), encoding="utf-8")
        command = [sys.executable, "-m", "likesewn.cli", "make", str(file), "--out", f"{folder}/out"]
        ours = best(lambda: subprocess.run(command, check=True, capture_output=True), 3)
        imports = "import numpy, scipy.sparse.linalg, shapely, reportlab.pdfgen.canvas, tomlkit, typer, rich"
        base = best(lambda: subprocess.run([sys.executable, "-c", imports], check=True), 3)
    return [
        (
            "`make`, cold, everything written",
            f"{ours:.2f} s",
            f"{base:.2f} s (importing its libraries)",
            f"{ours / base:.1f}",
            "3 s",
        )
    ]


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--write", type=File, help="file to keep the table in")
    where = parser.parse_args().write
    rows = [*truing(), *length(), *make()]
    lines = ["| what | ours | baseline in the same run | ratio | bar |", "|---|---|---|---|---|"]
    lines += [f"| {' | '.join(row)} |" for row in rows]
    print("\n".join(lines))
    if where:
        today = date.today().isoformat()  # noqa: DTZ011 - the date where it was run
        head = f"# Benchmarks\n\n`make bench` prints this table. Last run: {today}, two cores.\n\n"
        where.write_text(head + "\n".join(lines) + "\n", encoding="utf-8")


if __name__ == "__main__":
    main()
