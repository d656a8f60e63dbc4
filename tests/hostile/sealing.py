"""An export changed and sealed anew, as only someone who reads the program can: the seals hold, the content is false."""

from __future__ import annotations

import json
from collections.abc import Callable
from typing import Any

from straighten.book import exchange
from straighten.book.seals import Sealed, dumps


def sealed_anew(plain: dict[str, Any], change: Callable[[dict[str, Any]], None]) -> dict[str, Any]:
    """Return an export after a change of its entries, every seal worked out again."""
    data = json.loads(json.dumps(plain))
    for entry in data["entries"]:
        change(entry)
    fresh: dict[str, str] = {}
    for entry in data["entries"]:
        entry["previous"] = [fresh.get(seal, seal) for seal in entry["previous"]]
        entry["inputs"] = [fresh.get(seal, seal) for seal in entry["inputs"]]
        sealed = Sealed(
            head=data["head"]["uid"],
            previous=tuple(entry["previous"]),
            inputs=tuple(entry["inputs"]),
            record=dumps(entry["record"]),
            **{key: entry[key] for key in ("kind", "schema", "at", "clock_back", "version")},
        ).closed()
        fresh[entry["digest"]] = sealed.digest
        entry["digest"] = sealed.digest
    return whole(data)


def whole(data: dict[str, Any]) -> dict[str, Any]:
    """Return an export with the seal over all of it worked out again."""
    return {**data, "seal": exchange._seal_of(data)}
