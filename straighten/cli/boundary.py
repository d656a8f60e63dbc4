"""Where every expected fault becomes one message on stderr and an exit code."""

import json
import os
import sys

from straighten.errors import StraightenError

BUG_ADVICE = (
    "This is a fault of the program, not of yours. Run again with --debug to see where, and report it."
)


def run(words: list[str]) -> int:
    """Run the application on the words typed and return the exit code."""
    from straighten.cli.app import app

    try:
        code = app(args=words, standalone_mode=True, prog_name="straighten")
    except StraightenError as fault:
        _tell(fault, as_json="--json" in words)
        return fault.exit_code
    except SystemExit as leaving:
        return leaving.code if isinstance(leaving.code, int) else 1
    except BrokenPipeError:
        _close_quietly()
        return 1
    except Exception as fault:
        if "--debug" in words:
            raise
        sys.stderr.write(f"straighten: unexpected {type(fault).__name__}: {fault}\n{BUG_ADVICE}\n")
        return 1
    return code if isinstance(code, int) else 0


def _tell(fault: StraightenError, *, as_json: bool) -> None:
    if as_json:
        parts = {
            "schema": "straighten/error/1",
            "error": type(fault).__name__,
            "where": fault.where,
            "problem": fault.problem,
            "fix": fault.fix,
        }
        sys.stderr.write(json.dumps(parts, sort_keys=True) + "\n")
    else:
        sys.stderr.write(f"straighten: {fault}\n")


def _close_quietly() -> None:
    """Keep Python from writing to the closed pipe a second time at exit."""
    os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
