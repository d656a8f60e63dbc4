"""Room `cli`: reads the words typed, calls one function of `desk`, prints; no arithmetic.

`main` is the only boundary where an expected fault becomes a message and an exit code.
"""

import gc
import os
import sys
from contextlib import suppress

THREADS = ("OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS")  # what numpy's own libraries look at when they load


def main(arguments: list[str] | None = None) -> int:
    """Run the command line and return its exit code: 0 done, 1 a bug, 2 usage, 3 to 6 as in `errors`, 130 stopped."""
    words = sys.argv[1:] if arguments is None else arguments
    if words == ["--version"]:
        return _version()
    for name in THREADS:
        os.environ.setdefault(name, "1")  # matrices of a hundred rows: threads only wait for one another
    alone = arguments is None
    if alone:
        gc.disable()  # a process of one answer leaves nothing behind that looking for it would pay
    try:
        from straighten.cli.app import MOST_MEMORY, run

        if alone:
            _wall(MOST_MEMORY)
        return run(words)
    except KeyboardInterrupt:  # before the application began to listen
        return 130
    finally:
        if alone:
            gc.freeze()  # the end comes sooner where what was loaded is not looked through once more


def _wall(most: int) -> None:
    """Let no file make the process take more memory than that; it is told as a refusal, not as a crash."""
    import resource

    with suppress(OSError, ValueError):  # a lower limit is set already, or the system knows none
        resource.setrlimit(resource.RLIMIT_DATA, (most, resource.getrlimit(resource.RLIMIT_DATA)[1]))


def _version() -> int:
    from straighten import __version__

    try:
        print(f"straighten {__version__}", flush=True)
    except OSError:  # nobody reads it, or no room
        sys.stdout = None  # so that it is not tried again at exit
        return 1
    return 0
