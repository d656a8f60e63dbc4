"""Writes docs/reference from the program itself; `python -m tests.reference`. A contract test holds the two together."""

from __future__ import annotations

from pathlib import Path

ROOT = Path(__file__).parents[2]
FOLDER = ROOT / "docs" / "reference"
MEANINGS = ROOT / "tests" / "reference" / "meanings.toml"
NOTE = "<!-- Written by `python -m tests.reference`; do not edit. -->\n"


def table(heading: tuple[str, ...], rows: list[tuple[str, ...]]) -> str:
    """Return a Markdown table."""
    lines = ["| " + " | ".join(heading) + " |", "|" + "---|" * len(heading)]
    lines += [
        "| " + " | ".join(cell.replace("|", "\\|").replace("\n", " ") for cell in row) + " |" for row in rows
    ]
    return "\n".join(lines) + "\n"
