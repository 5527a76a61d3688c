"""A second search in a process of its own.

It runs as ``python -m likesewn.lay.nest.team`` and speaks pickled values over its standard streams: first
what to lay, then each way lays as they are found. It ends when told so, or when the stream to it is closed.
"""

import os
import pickle
import signal
import subprocess
import sys
import threading
from collections.abc import Sequence
from contextlib import suppress
from queue import Empty, SimpleQueue
from typing import IO, Self

from likesewn.lay.nest.hunt import Find, Hunt
from likesewn.lay.nest.parts import Part
from likesewn.lay.nest.tables import Tables

__all__ = ["Mate"]


class Mate:
    """The other process, as seen from the one that started it."""

    def __init__(self, parts: Sequence[Part], width: float, *, seed: int, moves: int | None) -> None:
        # The child finds the package where this process found it.
        environment = os.environ | {"PYTHONPATH": os.pathsep.join(path for path in sys.path if path)}
        self._process = subprocess.Popen(
            [sys.executable, "-m", "likesewn.lay.nest.team"],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            stderr=subprocess.DEVNULL,
            env=environment,
        )
        self._found: SimpleQueue[Find | None] = SimpleQueue()
        self._reader = threading.Thread(
            target=_read_into, args=(self._process.stdout, self._found), daemon=True
        )
        self._reader.start()
        self._tell((tuple(parts), width, seed, moves))

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        self._process.kill()
        self._process.wait()
        self._reader.join()
        for stream in (self._process.stdin, self._process.stdout):
            if stream:
                with suppress(OSError):  # what was not yet sent to a process that is gone
                    stream.close()

    def tell(self, find: Find) -> None:
        """Let it know of a lay."""
        self._tell(find)

    def heard(self) -> list[Find]:
        """Return the lays that it has found since this was last asked."""
        finds: list[Find] = []
        while True:
            try:
                find = self._found.get_nowait()
            except Empty:
                return finds
            if find is not None:
                finds.append(find)

    def finish(self) -> list[Find]:
        """Wait until it has made all its moves; return the lays that it found meanwhile."""
        self._reader.join()
        return self.heard()

    def _tell(self, message: object) -> None:
        stream = self._process.stdin
        if stream:
            with suppress(OSError):  # it may be gone; the search goes on without it
                pickle.dump(message, stream)
                stream.flush()


def _read_into(stream: IO[bytes] | None, queue: "SimpleQueue[Find | None]") -> None:
    """Move what comes from a stream into a queue until the stream ends."""
    try:
        while stream:
            queue.put(pickle.load(stream))  # noqa: S301 - only what our own process wrote
    except (EOFError, OSError, pickle.UnpicklingError, ValueError):
        queue.put(None)


def _serve(source: IO[bytes], target: IO[bytes]) -> None:
    """Search as told by ``source``, and write what is found to ``target``."""
    parts, width, seed, moves = pickle.load(source)  # noqa: S301 - only what our own process wrote
    told: SimpleQueue[Find | None] = SimpleQueue()
    reader = threading.Thread(target=_read_into, args=(source, told), daemon=True)
    reader.start()
    hunt = Hunt(Tables.of(parts, width), seed)
    pickle.dump(hunt.best, target)
    target.flush()
    for find in hunt.tries(lambda: not reader.is_alive(), moves):
        if find is not None:
            pickle.dump(find, target)
            target.flush()
        while not told.empty():
            other = told.get()
            if other is not None:
                hunt.join(other)


if __name__ == "__main__":
    # Ctrl-C reaches both processes; the first one decides.
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    _serve(sys.stdin.buffer, sys.stdout.buffer)
