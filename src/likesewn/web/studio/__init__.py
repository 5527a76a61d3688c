"""Photographs are opened and traced in a process of their own, with limits on memory, time and files.

A picture from elsewhere is the one thing in the workbench that a stranger may have made. The server
therefore never opens one: ``studio`` hands its bytes to a worker and waits, ``worker`` limits itself and
works, ``work`` is what it does, ``asking`` reads what a page asks for, ``messages`` is how the two speak
(plain JSON and bytes, so that a worker that was taken over can hand the server nothing that runs). A worker
that breaks, or takes too long, is ended and replaced; ``names`` makes a file's name fit to be shown.
"""

from likesewn.web.studio.names import plain_name
from likesewn.web.studio.studio import BusyError, Looked, Studio

__all__ = ["BusyError", "Looked", "Studio", "plain_name"]
