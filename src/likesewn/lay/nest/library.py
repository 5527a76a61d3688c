"""Lays by spyrrow, the general nesting library.

It carries the method of Gardeyn, Vanden Berghe and Wauters, "An open-source heuristic to reboot 2D nesting
research", 2025. It reckons in single precision, so that what it lays may overlap by a little; callers mend
that. It stops by the clock and shares work among threads, so that one seed does not promise one lay. It runs
away or panics when a part cannot fit the strip, so callers make sure of that first.
"""

import threading
from collections.abc import Callable, Iterator, Sequence

import spyrrow

from likesewn.lay.nest.parts import Laid, Part

__all__ = ["by_library"]

POLL = 0.02
"""Seconds between looks at what the library has found; shorter costs more than it tells."""


def by_library(
    parts: Sequence[Part], width: float, *, seconds: int, seed: int, workers: int, squeeze: int = 0
) -> Iterator[tuple[float, tuple[Laid, ...]]]:
    """Yield ever shorter lays, each with its length, mm.

    Args:
        parts: What to lay; each fits the strip in one of its turns at least.
        width: Width of the strip, mm.
        seconds: Time for finding new arrangements, whole seconds, at least 1.
        seed: Seed of the library's random numbers.
        workers: Threads.
        squeeze: Time for pressing the last arrangement together afterwards, whole seconds.
    """
    items = [
        spyrrow.Item(str(i), [(float(x), float(y)) for x, y in part.outline], part.copies, list(part.turns))
        for i, part in enumerate(parts)
    ]
    instance = spyrrow.StripPackingInstance("", width, items)
    config = spyrrow.StripPackingConfig(
        total_computation_time=None,
        exploration_time=seconds,
        compression_time=squeeze,
        num_workers=workers,
        seed=seed,
    )
    queue = spyrrow.ProgressQueue()
    fault: list[BaseException] = []
    thread = threading.Thread(
        target=_solved, args=(lambda: instance.solve(config, queue), fault), daemon=True
    )
    thread.start()
    usable = (spyrrow.ReportType.ExplFeas, spyrrow.ReportType.CmprFeas, spyrrow.ReportType.Final)
    running = True
    while running:
        thread.join(POLL)
        running = thread.is_alive()
        found = [solution for kind, solution in queue.drain() if kind in usable]
        if found:
            shortest = min(found, key=lambda solution: solution.width)
            yield shortest.width, _read(shortest, parts)
    if fault and not isinstance(fault[0], Exception):
        # A panic inside the library: what was yielded before it still stands.
        return
    if fault:
        raise fault[0]


def _solved(solve: Callable[[], object], fault: list[BaseException]) -> None:
    try:
        solve()
    except BaseException as error:  # noqa: BLE001 - a panic derives from BaseException alone
        fault.append(error)


def _read(solution: spyrrow.StripPackingSolution, parts: Sequence[Part]) -> tuple[Laid, ...]:
    laid = [
        Laid(
            part=int(item.id),
            turn=min(
                parts[int(item.id)].turns,
                key=lambda turn, has=item.rotation: abs((turn - has + 180) % 360 - 180),
            ),
            x=float(item.translation[0]),
            y=float(item.translation[1]),
        )
        for item in solution.placed_items
    ]
    return tuple(sorted(laid, key=lambda one: one.part))
