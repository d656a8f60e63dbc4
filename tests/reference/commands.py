"""Commands with their arguments and options, and exit codes, read from the functions and the error classes."""

from __future__ import annotations

import inspect
import types
from pathlib import Path
from typing import Annotated, Any, Literal, Union, get_args, get_origin

from typer.core import TyperCommand as Command
from typer.main import get_command

from tests.reference import NOTE, table

COMMON = ("`--json`", "`--book`")  # said once for all commands
KINDS = {str: "text", Path: "file", int: "whole number", float: "number", bool: "switch"}


def commands_page() -> str:
    """Return the page of commands."""
    told = parsers()
    parts = [
        NOTE,
        "# Commands\n",
        "`straighten COMMAND [NAME] [options]`. NAME is a name, a folder that holds `head.toml`, or a head file. Answers"
        " go to stdout, notes and faults to stderr; see [exit codes](exit-codes.md), [files](README.md) and"
        " [answers](answers.md).\n",
        "Common to all: `-h`, `--help` shows a command's help; `straighten --version` prints the version; `--debug`"
        " shows the trace where the program itself fails. `--json` prints one JSON object instead of text; `--book FILE`"
        " names the shop's book. The environment variable `STRAIGHTEN_BOOK` names the book,"
        " `XDG_DATA_HOME` the folder it lies in otherwise, `NO_COLOR` turns colours off.\n",
    ]
    for name, command in told:
        parts.append(f"\n## {name}\n\n{inspect.getdoc(command.callback)}\n")
        rows = [row for row in _parameters(command) if row[0] not in COMMON]
        parts += [table(("given", "kind", "default", "meaning"), rows)] if rows else []
        parts.append(f"Also {', '.join(row[0] for row in _parameters(command) if row[0] in COMMON)}.\n")
    return "\n".join(parts)


def commands() -> list[tuple[str, Any]]:
    """Return every command with its function, those of groups as "group command"."""
    return [(name, command.callback) for name, command in parsers()]


def parsers() -> list[tuple[str, Command]]:
    """Return every command as the parser knows it, in the order of the application."""
    from straighten.cli.app import app

    found = []
    for name, command in get_command(app).commands.items():
        inner = getattr(command, "commands", None)
        found += [(name, command)] if inner is None else [(f"{name} {n}", c) for n, c in inner.items()]
    return found


def _parameters(command: Command) -> Any:
    taken = {p.name: p for p in command.params}
    for name, parameter in inspect.signature(command.callback, eval_str=True).parameters.items():
        known = taken.get(name)
        if known is None or getattr(known, "hidden", False):
            continue
        meant = parameter.annotation
        if get_origin(meant) is Annotated:
            meant = get_args(meant)[0]
        words = _typed(known)
        default = (
            "" if parameter.default in (None, False, inspect.Parameter.empty) else f"`{parameter.default}`"
        )
        yield words, kind_of(meant), "needed" if known.required else default, getattr(known, "help", "") or ""


def _typed(parameter: Any) -> str:
    """Return what stands for a parameter on the command line, as the parser takes it."""
    if parameter.param_type_name == "option":
        return ", ".join(f"`{word}`" for word in (*parameter.opts, *parameter.secondary_opts))
    name = parameter.metavar or parameter.name.upper()
    return f"`{name}`" if parameter.required else f"`[{name.strip('[]')}]`"


def kind_of(annotation: Any) -> str:
    """Return a type of an option in words."""
    if get_origin(annotation) in (Union, types.UnionType):
        return kind_of(next(a for a in get_args(annotation) if a is not type(None)))
    if get_origin(annotation) is Literal:
        return " or ".join(f"`{a}`" for a in get_args(annotation))
    return KINDS[annotation]


def exit_codes_page() -> str:
    """Return the page of exit codes."""
    from straighten import errors

    known = [
        c for c in vars(errors).values() if isinstance(c, type) and issubclass(c, errors.StraightenError)
    ]
    rows = [
        ("0", "", "done"),
        (
            "1",
            "",
            "a fault of the program itself, --debug shows where; or an answer that could not be written: nobody reads the pipe, no room",
        ),
        ("2", "", "the command line is not understood: unknown command or option, argument missing"),
    ]
    rows += [
        (str(c.exit_code), f"`{c.__name__}`", (inspect.getdoc(c) or "").split("\n")[0])
        for c in sorted(known, key=lambda c: c.exit_code)
        if c is not errors.StraightenError
    ]
    rows.append(("130", "", "stopped with Ctrl-C; what was recorded before stays in the book"))
    return "\n".join(
        [
            NOTE,
            "# Exit codes\n",
            table(("code", "error", "meaning"), rows),
            "With `--json` a fault is one JSON object on stderr, schema `straighten/error/1`: `error` (the class), `where`"
            " (file, key, reading or option), `problem` (what was found and what is allowed), `fix` (what to do). A command"
            " that is refused has recorded nothing.\n",
        ]
    )
