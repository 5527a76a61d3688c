"""The worker process: limits itself before it opens anything, then answers until its input ends.

Started by ``studio`` as ``python -m likesewn.web.studio.worker MEMORY_MB SECONDS``; speaks ``messages`` on
its standard input and output.

Where the system has them, the limits are: memory (RLIMIT_AS), time on the processor for each request
(RLIMIT_CPU), open files (RLIMIT_NOFILE), nothing written to any file (RLIMIT_FSIZE), no network (a namespace
of its own on Linux). On every system Python itself is told to refuse sockets, other programs and writing.
Windows has no such limits; there, size and pixels are checked before a picture is opened, and the studio ends
a worker that takes too long.
"""

import os
import sys
import traceback
from contextlib import suppress
from typing import Any, NoReturn

MOST_FILES = 64

_FORBIDDEN = frozenset(
    {
        "os.chmod",
        "os.exec",
        "os.fork",
        "os.forkpty",
        "os.link",
        "os.mkdir",
        "os.posix_spawn",
        "os.remove",
        "os.rename",
        "os.rmdir",
        "os.spawn",
        "os.startfile",
        "os.symlink",
        "os.system",
        "os.truncate",
        "subprocess.Popen",
        "urllib.Request",
    }
)
_NEW_USER, _NEW_NETWORK = 0x10000000, 0x40000000  # CLONE_NEWUSER and CLONE_NEWNET, linux/sched.h
_NO_NEW_PRIVILEGES = 38  # PR_SET_NO_NEW_PRIVS, linux/prctl.h


def _limit_process(memory_mb: int) -> None:
    if sys.platform == "linux":
        import ctypes  # noqa: PLC0415

        with suppress(OSError, AttributeError):  # some systems do not let a program give up its network
            own = ctypes.CDLL(None)
            own.prctl(_NO_NEW_PRIVILEGES, 1, 0, 0, 0)
            own.unshare(_NEW_USER | _NEW_NETWORK)
    if sys.platform == "win32":
        return
    import resource  # noqa: PLC0415

    for what, most in (
        (resource.RLIMIT_AS, memory_mb * 1_000_000),
        (resource.RLIMIT_NOFILE, MOST_FILES),
        (resource.RLIMIT_FSIZE, 0),
        (resource.RLIMIT_CORE, 0),
    ):
        with suppress(OSError, ValueError):  # a lower limit may hold already
            resource.setrlimit(what, (most, most))


def _limit_time(seconds: float) -> None:
    """Let the next request have this much time on the processor, for each of two threads."""
    if sys.platform == "win32":
        return
    import resource  # noqa: PLC0415

    spent = resource.getrusage(resource.RUSAGE_SELF)
    most = int(spent.ru_utime + spent.ru_stime + 2 * seconds) + 1
    with suppress(OSError, ValueError):
        resource.setrlimit(resource.RLIMIT_CPU, (most, resource.getrlimit(resource.RLIMIT_CPU)[1]))


def _refuse(event: str, arguments: tuple[Any, ...]) -> None:
    """Refuse what a worker never does (an audit hook, PEP 578)."""
    if event in _FORBIDDEN or event.startswith(("socket.", "http.", "ftplib.", "smtplib.")):
        raise PermissionError(event)
    if event == "open" and isinstance(arguments[1], str) and set(arguments[1]) & set("wax+"):
        raise PermissionError(event)


def main() -> NoReturn:
    """Answer requests until there are no more."""
    memory_mb, seconds = int(sys.argv[1]), float(sys.argv[2])
    # what libraries print must not come between the answers
    answers = os.fdopen(os.dup(1), "wb")
    os.dup2(2, 1)
    _limit_process(memory_mb)
    import cv2  # noqa: PLC0415

    from likesewn.errors import InputError, error_data  # noqa: PLC0415
    from likesewn.web.studio.messages import receive, send  # noqa: PLC0415
    from likesewn.web.studio.work import Work  # noqa: PLC0415

    cv2.setNumThreads(2)
    sys.addaudithook(_refuse)
    work = Work()
    send(answers, {"ready": True})
    while (got := receive(sys.stdin.buffer)) is not None:
        asked, files = got
        _limit_time(seconds)
        blocks: list[bytes] = []
        try:
            answer, blocks = work.do(asked, files)
        except InputError as error:
            answer = error_data(error)
        except (MemoryError, cv2.error) as error:
            # what was half done still holds memory: the next request gets a fresh process
            answer = {"failed": "memory" if _out_of_memory(error) else traceback.format_exc()[-4000:]}
        except Exception:  # noqa: BLE001 - whatever breaks on a picture is told, and the process replaced
            answer = {"failed": traceback.format_exc()[-4000:]}
        del files, got
        send(answers, {**answer, "kept": work.kept}, blocks)
    os._exit(0)


def _out_of_memory(error: Exception) -> bool:
    return isinstance(error, MemoryError) or "nsufficient memory" in str(error)


if __name__ == "__main__":
    main()
