"""How hard to look for a short lay."""

from collections.abc import Callable
from dataclasses import dataclass, field

__all__ = ["QUICK", "Effort"]

QUICK = 160
"""Steps of a search that is to be done in a fraction of a second."""


@dataclass(frozen=True, slots=True)
class Effort:
    """How long a search may take, and who is told of what it finds.

    Attributes:
        steps: Steps that it takes; with these alone the same seed gives the same lay on the same machine.
        seconds: Time after which it stops whatever its steps, or None.
        clock: Seconds that only ever grow; needed with ``seconds``.
        seed: Seed of its random numbers.
        improved: Told of each shorter length, mm, as it is found.
        cores: Searches run side by side, each with a seed of its own.
        enough: True to stop at the first lay that fits the cloth in hand.
    """

    steps: int = QUICK
    seconds: float | None = None
    clock: Callable[[], float] | None = None
    seed: int = 0
    improved: Callable[[float], None] | None = field(default=None, compare=False)
    cores: int = 1
    enough: bool = False

    @property
    def quick(self) -> bool:
        """True for a search that is to be done in a fraction of a second."""
        return self.seconds is None and self.steps <= QUICK

    def stopper(self) -> Callable[[], bool]:
        """Return a function that says when the time is over, counted from now."""
        seconds, clock = self.seconds, self.clock
        if seconds is None or clock is None:
            return lambda: False
        begun = clock()
        return lambda: clock() - begun >= seconds
