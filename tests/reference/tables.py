"""Tables of the book, read from the statements that make them."""

from __future__ import annotations

import re
import tomllib

from tests.reference import MEANINGS, NOTE, table

COLUMN = re.compile(r"^\s*(\w+) (TEXT|INTEGER|REAL)\b(.*?),?$")


def tables_page() -> str:
    """Return the page of the SQL tables."""
    from straighten.book.migrations import STEPS, expected_tables

    words = tomllib.loads(MEANINGS.read_text(encoding="utf-8"))["book"]
    known = expected_tables()
    parts = [
        NOTE,
        "# Tables of the book\n",
        f"One SQLite file, `application_id` set, `user_version` {len(STEPS)}: the number of migrations taken. All tables"
        " are STRICT, foreign keys are on. `entry` is the log and the only truth: nothing in it is changed or deleted"
        " (triggers refuse it). Read it with any"
        " SQLite program; write to it only through `straighten`.\n",
    ]
    for name, sql in known.items():
        if not sql.lstrip().startswith("CREATE TABLE") or name.startswith("sqlite_"):
            continue
        told = words[name]
        parts.append(f"\n## {name}\n\n{told['table']}\n")
        rows = [
            (f"`{m[1]}`", m[2].lower(), " ".join(m[3].split()), told[m[1]])
            for line in sql.splitlines()
            if (m := COLUMN.match(line))
        ]
        parts.append(table(("column", "type", "constraint", "meaning"), rows))
    triggers = [n for n, sql in known.items() if "TRIGGER" in sql.split("\n")[0]]
    indexes = [n for n, sql in known.items() if sql.startswith("CREATE INDEX") or "CREATE INDEX" in sql]
    parts.append(f"\nTriggers: {', '.join(f'`{n}`' for n in sorted(triggers))}.\n")
    parts.append(f"Indexes: {', '.join(f'`{n}`' for n in sorted(indexes))}.\n")
    return "\n".join(parts)
