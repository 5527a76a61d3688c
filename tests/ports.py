"""Ports for the servers that tests start in processes of their own."""

import random
import socket

__all__ = ["free_port"]

CHOICE = range(20_000, 30_000)
"""Below what systems hand to connections that go out: none of the tests' many can take a port between the
time that it is found free and the time that its server listens."""


def free_port() -> int:
    """Return a port of this machine that is free."""
    dice = random.SystemRandom()  # processes that test at once must not all try the same ones
    while True:
        port = dice.choice(CHOICE)
        with socket.socket() as probe:
            try:
                probe.bind(("127.0.0.1", port))
            except OSError:
                continue
            return port
