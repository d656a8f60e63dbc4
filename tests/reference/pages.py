"""All reference pages as text, by their path under docs/reference."""

from __future__ import annotations

from functools import cache

from tests.reference.answers import answer_pages
from tests.reference.commands import commands_page, exit_codes_page
from tests.reference.files import file_pages
from tests.reference.tables import tables_page


@cache
def pages() -> dict[str, str]:
    """Return the pages; the answers come from running the commands, about half a minute."""
    return {
        "commands.md": commands_page(),
        "exit-codes.md": exit_codes_page(),
        "tables.md": tables_page(),
        **file_pages(),
        **answer_pages(),
    }
