"""Curve length against adaptive quadrature."""

import numpy as np
from scipy.integrate import quad

from benchmarks.table import Row, best_of
from likesewn.geometry import Path, bezier

__all__ = ["curve_lengths"]


def curve_lengths(count: int = 200) -> tuple[list[Row], list[str]]:
    """Measure smooth curves of garment size, and rough ones with loops and cusps; return rows and remarks."""
    rng = np.random.default_rng(5)
    base = np.array([[0.0, 0.0], [60.0, 0.0], [120.0, 0.0], [180.0, 0.0]])
    smooth = base + rng.normal(0.0, 25.0, (count, 4, 2))
    rough = rng.uniform(-200.0, 200.0, (count, 4, 2))

    def reference(ctrl: np.ndarray, tolerance: float) -> float:
        def speed(t: float) -> float:
            return float(np.hypot(*bezier.derivative(ctrl, t)))

        # quad alone may step over a near stop, so it is told where the speed is least
        grid = np.linspace(0.0, 1.0, 65)
        slow = grid[1:-1][np.argsort(np.hypot(*bezier.derivative(ctrl[None], grid[1:-1]).T))[:2]]
        return quad(speed, 0.0, 1.0, points=sorted(slow), epsabs=0.0, epsrel=tolerance, limit=400)[0]

    def plain(ctrl: np.ndarray) -> float:
        def speed(t: float) -> float:
            v = 1.0 - t
            a, b, c = ctrl[1:] - ctrl[:-1]
            d = 3.0 * (v * v * a + 2.0 * v * t * b + t * t * c)
            return float(np.hypot(d[0], d[1]))

        return quad(speed, 0.0, 1.0, epsabs=0.0, epsrel=1e-10, limit=200)[0]

    rows: list[Row] = []
    for name, curves in (("smooth", smooth), ("with loops and near stops", rough)):
        ours = np.array([Path(c).length for c in curves])
        wanted = np.array([reference(c, 1e-13) for c in curves])
        error = float(np.abs(ours / wanted - 1.0).max())
        took, _ = best_of(5, lambda curves=curves: [Path(c).length for c in curves])
        base_took, _ = best_of(3, lambda curves=curves: [plain(c) for c in curves])
        rows.append(
            Row(
                f"Length of a cubic, {name}, one at a time ({count} of them)",
                f"{1e6 * took / count:.0f} µs, error at most {error:.1e}",
                "scipy.integrate.quad, relative tolerance 1e-10",
                f"{1e6 * base_took / count:.0f} µs",
                f"1 : {base_took / took:.1f}",
                "relative error at most 1e-9",
                "yes" if error <= 1e-9 else "no",
            )
        )
    return rows, ["Errors are held against quad at a tolerance of 1e-13, cut where the curve is slowest."]
