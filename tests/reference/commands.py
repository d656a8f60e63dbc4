"""Commands with their arguments and options, and exit codes, read from the functions and the error classes."""

from __future__ import annotations

import inspect
import types
from pathlib import Path
from typing import Annotated, Any, Literal, Union, get_args, get_origin

from tests.reference import NOTE, table

KINDS = {str: "text", Path: "file", int: "whole number", float: "number", bool: "switch"}


def commands_page() -> str:
    """Return the page of commands."""
    told = commands()
    parts = [
        NOTE,
        "# Commands\n",
        "`straighten COMMAND [NAME] [options]`. NAME is a name, a folder that holds `head.toml`, or a head file. Answers"
        " go to stdout, notes and faults to stderr; see [exit codes](exit-codes.md), [files](README.md) and"
        " [answers](answers.md).\n",
        "Common to all: `-h`, `--help` shows a command's help; `straighten --version` prints the version; `--debug`"
        " shows the trace where the program itself fails. The environment variable `STRAIGHTEN_BOOK` names the book,"
        " `XDG_DATA_HOME` the folder it lies in otherwise, `NO_COLOR` turns colours off.\n",
        table(("command", "what it does"), [(f"[{n}](#{n.replace(' ', '-')})", _first(f)) for n, f in told]),
    ]
    for name, function in told:
        parts.append(f"\n## {name}\n\n{inspect.getdoc(function)}\n")
        parts.append(table(("given", "kind", "default", "meaning"), list(_parameters(function))))
    return "\n".join(parts)


def commands() -> list[tuple[str, Any]]:
    """Return every command with its function, those of groups as "group command"."""
    from straighten.cli.app import app

    found = [(c.name or c.callback.__name__, c.callback) for c in app.registered_commands if c.callback]
    for group in app.registered_groups:
        inner = group.typer_instance
        name = group.name if isinstance(group.name, str) else inner.info.name
        found += [(f"{name} {c.name or c.callback.__name__}", c.callback) for c in inner.registered_commands]
    return found


def _first(function: Any) -> str:
    return (inspect.getdoc(function) or "").split("\n")[0]


def _parameters(function: Any) -> Any:
    for name, parameter in inspect.signature(function, eval_str=True).parameters.items():
        annotation, default = parameter.annotation, parameter.default
        meant, found = annotation, None
        if get_origin(annotation) is Annotated:
            meant, found = get_args(annotation)[0], get_args(annotation)[1]
        if found is None or getattr(found, "hidden", False):
            continue
        option = type(found).__name__ == "OptionInfo"
        words = " ".join(found.param_decls) if option and found.param_decls else f"--{name.replace('_', '-')}"
        shown = f"`{words}`" if option else f"`{found.metavar or name.upper()}`"
        empty = default in (None, False, inspect.Parameter.empty)
        needed = default is inspect.Parameter.empty
        yield shown, kind_of(meant), "needed" if needed else "" if empty else f"`{default}`", found.help or ""


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
