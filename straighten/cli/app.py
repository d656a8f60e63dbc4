"""The application: one module per command, gathered here; every expected fault becomes one message and an exit code.

Nothing heavy is imported before a command runs.
"""

import errno
import io
import json
import os
import shlex
import sys
import warnings
from collections.abc import Iterator
from contextlib import contextmanager, redirect_stderr, suppress

import typer
from typer import Option

from straighten.cli import bench, exchange, finishing, heads, passes
from straighten.errors import BadInput, BookError, OutsideModel, StraightenError, closed, in_shell, printable

START = """\
Straightens a bowed aluminium cylinder head: plans, prints and learns. First:
 1  straighten new my-head    asks what you know of the head, in mm or inches
 2  straighten bench my-head  leads through the job, one question at a time:
                              measure, check, clamp, heat, cool, sand, close
Or step by step, each explained by --help: measure, check, plan, sheet, tighten,
stage, log, decide, sand, finish.
Leave at any prompt with stop; the job goes on there.
Have ready: straightedge, feeler blades, flat base with studs, crack test,
and the maker's limits for deck and cam line. Magnesium or a crack: no heat.
Every command: straighten --help"""
app = typer.Typer(
    name="straighten",
    help="Plan the straightening of a bowed aluminium cylinder head, pass by pass.",
    invoke_without_command=True,
    rich_markup_mode=None,
    pretty_exceptions_enable=False,
    context_settings={"help_option_names": ["-h", "--help"]},
)


@app.callback(invoke_without_command=True)
def begin(
    context: typer.Context,
    version: bool = Option(False, "--version", help="Print the version and leave."),
    debug: bool = Option(False, "--debug", help="Show the trace where the program itself fails."),
) -> None:
    """Plan the straightening of a bowed aluminium cylinder head, pass by pass."""
    del debug  # read by the boundary
    if os.environ.get("NO_COLOR"):
        context.color = False
    if version:
        from straighten import __version__

        typer.echo(f"straighten {__version__}")
        raise typer.Exit
    if context.invoked_subcommand is None:
        typer.echo(START)


for command in (
    heads.new, heads.measure, heads.check, heads.where, passes.plan, passes.tighten, passes.stage, passes.log,
    passes.decide, passes.try_, passes.explain, finishing.sheet, finishing.sand, finishing.finish, bench.bench,
    exchange.heads, exchange.history, exchange.export, exchange.import_, exchange.strike, exchange.settle,
):  # fmt: skip
    app.command(command.__name__.rstrip("_"))(command)
app.add_typer(exchange.book_app)

BUG_ADVICE = (
    "This is a fault of the program, not of yours. Run again with --debug to see where, and report it."
)
RECORDED = "What the command records is in the book."
USAGE = 2  # as click leaves where the words typed make no command
BEYOND = "the numbers lead outside what can be computed"
MOST_MEMORY = 2 * 2**30  # bytes
STOPPED = 130  # as a shell tells it: 128 and the number of SIGINT
NO_ROOM = (errno.ENOSPC, errno.EDQUOT, errno.EFBIG, errno.EIO)
NO_WAY = (
    errno.ENAMETOOLONG,
    errno.ELOOP,
    errno.EACCES,
    errno.EPERM,
    errno.EROFS,
    errno.ENOTDIR,
    errno.EISDIR,
)
LONGEST_PATH = 200  # characters of it in a message


def run(words: list[str]) -> int:
    """Run the application on the words typed and return the exit code."""
    _bend_streams()
    words = [_spelled_option(word) for word in words]
    if "--debug" in words:  # stands before the command for typer; people type it behind
        words = ["--debug", *(word for word in words if word != "--debug")]
    if "--json" not in words:
        return _ran(words)
    with _held_back() as held:
        code = _ran(words)
    _say(held.refusal or held.text())
    return code


def _spelled_option(word: str) -> str:
    """Return an option with escapes in its name: typer prints the name of one that it does not know as it stands."""
    name, equals, value = word.partition("=")
    return f"{printable(name)}{equals}{value}" if word.startswith("-") else word


def screen() -> int | None:
    """Return the columns of the terminal that the answer goes to, None where it goes elsewhere or has none."""
    try:
        return os.get_terminal_size(sys.stdout.fileno()).columns if sys.stdout.isatty() else None
    except (AttributeError, OSError, ValueError):
        return None


def _ran(words: list[str]) -> int:
    from straighten.sheet.layout import fold_to

    fold_to(screen())
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("error", RuntimeWarning)  # numbers that overflow or are none
            code = app(args=words, standalone_mode=True, prog_name="straighten")
    except SystemExit as leaving:
        return _left(leaving)
    except Exception as fault:
        return _failed(fault, words)
    return code if isinstance(code, int) else 0


class _Held(io.TextIOWrapper):
    """Takes what is said on stderr while an answer is made as JSON: notes of an answer, or one refusal and nothing else."""

    refusal = ""

    def text(self) -> str:
        self.flush()
        self.seek(0)
        return self.read()


@contextmanager
def _held_back() -> Iterator[_Held]:
    encoding = "ascii" if sys.stderr is None else sys.stderr.encoding or "ascii"
    held = _Held(io.BytesIO(), encoding=encoding, errors="backslashreplace")
    with redirect_stderr(held):
        yield held


def _left(leaving: SystemExit) -> int:
    """Return the code the application left with; 130 where Ctrl-C made it leave, also at a prompt."""
    cause: BaseException | None = leaving
    while cause is not None:
        if isinstance(cause, KeyboardInterrupt):
            _say("straighten: stopped; what was recorded before stays in the book.\n")
            return STOPPED
        cause = cause.__cause__ or cause.__context__
    code = leaving.code if isinstance(leaving.code, int) else 1
    if code == USAGE and isinstance(sys.stderr, _Held):
        told = sys.stderr.text().strip().splitlines()
        _refuse("Usage", BadInput(told[-1].removeprefix("Error: ") if told else "", where="words typed"))
    return code


def _failed(fault: Exception, words: list[str]) -> int:
    """Tell a fault and return its exit code; one of the program itself is raised again with --debug."""
    if isinstance(fault, StraightenError):
        _tell(fault, words)
        return fault.exit_code
    if isinstance(fault, RuntimeWarning):
        return _failed(OutsideModel(f"{BEYOND}: {fault}", where="what was given"), words)
    if isinstance(fault, MemoryError):
        return _failed(BadInput(f"what was given takes more memory than {MOST_MEMORY >> 30} GiB"), words)
    if isinstance(fault, OSError) and fault.errno in (errno.EPIPE, *NO_ROOM):
        _close_quietly()
        if fault.errno != errno.EPIPE:
            _say(f"straighten: the answer cannot be written: {fault.strerror}. {RECORDED}\n")
        return 1
    if isinstance(fault, OSError) and fault.errno in NO_WAY:
        where = str(fault.filename or "")[:LONGEST_PATH]
        return _failed(BadInput(f"cannot be used: {fault.strerror}", where=where), words)
    if "--debug" in words:
        raise fault
    told = f"unexpected {type(fault).__name__}: {printable(str(fault))}"
    _refuse(type(fault).__name__, StraightenError(told, fix=BUG_ADVICE))
    _say(f"straighten: {told}\n{BUG_ADVICE}\n")
    return 1


def _close_quietly() -> None:
    """Keep Python from writing a second time, at exit, to a pipe that is closed or a disk that is full."""
    with suppress(OSError, ValueError):
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())


def _bend_streams() -> None:
    """Let a character that the terminal's encoding lacks, or a file name of no encoding, stand as an escape."""
    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, io.TextIOWrapper):
            stream.reconfigure(errors="backslashreplace")


def _say(text: str) -> None:
    """Write to stderr, where there is one."""
    if sys.stderr is not None:
        with suppress(OSError):
            sys.stderr.write(text)


def _tell(fault: StraightenError, words: list[str]) -> None:
    _refuse(type(fault).__name__, fault)
    told, command = str(fault), _next(fault, words)
    if command and "straighten " not in told:
        told = f"{closed(told)} Next: {command}"
    _say(f"straighten: {printable(told)}\n")


_ABOUT_A_HEAD = [
    "measure",
    "check",
    "plan",
    "tighten",
    "stage",
    "log",
    "decide",
    "sand",
    "finish",
    "bench",
    "sheet",
]


def _next(fault: StraightenError, words: list[str]) -> str:
    """Return the command that goes on from a refusal that names none; "" where only the words typed can be mended."""
    if isinstance(fault, BookError):
        return "straighten where says which book is used and who named it"
    command, name = ([word for word in words if not word.startswith("-")] + ["", ""])[:2]
    about = command in _ABOUT_A_HEAD
    if not name or not (about or command in ("try", "explain")):
        return ""
    if isinstance(fault, BadInput) or not about:
        return f"mend it, then again {shlex.join(['straighten', *words])}"
    return f"straighten check {in_shell(name)} says how the head stands and what is left to do"


def _refuse(name: str, fault: StraightenError) -> None:
    """Keep a refusal as the one JSON object to print, where JSON was asked for."""
    if isinstance(sys.stderr, _Held):
        parts = {
            "schema": "straighten/error/1",
            "error": name,
            "where": fault.where,
            "problem": fault.problem,
            "fix": fault.fix,
        }
        sys.stderr.refusal = json.dumps(parts, sort_keys=True) + "\n"
