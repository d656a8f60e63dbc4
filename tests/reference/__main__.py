"""Write every reference page: `python -m tests.reference`."""

from __future__ import annotations

import sys

from tests.reference import FOLDER, ROOT
from tests.reference.pages import pages


def main() -> int:
    """Write the pages and tell which."""
    written = pages()
    for old in FOLDER.rglob("*"):
        if (
            old.is_file()
            and old.suffix in (".md", ".json")
            and old.relative_to(FOLDER).as_posix() not in written
        ):
            old.unlink()
    for name, text in written.items():
        path = FOLDER / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(text, encoding="utf-8")
        sys.stdout.write(f"wrote {path.relative_to(ROOT)}\n")
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
