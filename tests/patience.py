"""How long tests wait for what has to come."""

__all__ = ["PATIENCE"]

PATIENCE = 90.0
"""Seconds after which something that is waited for is taken not to come. A machine that does much else at
once is slow, not wrong; where all is well nothing waits this long."""
