"""HTML and SVG built from elements: text is escaped by the writer itself, and what could break a page is taken out."""

from __future__ import annotations

import unicodedata
from base64 import b64encode
from collections.abc import Iterable
from hashlib import sha256
from importlib.resources import files
from xml.etree.ElementTree import Element, tostring

Part = Element | str | None

_LOST = "\ufffd"
# Marks that turn the reading direction of what follows: a name must not rearrange the page around it.
_TURNING = frozenset("\u200e\u200f\u202a\u202b\u202c\u202d\u202e\u2066\u2067\u2068\u2069\u061c")
# Fences a drawing's place until the page is written; no text from outside can hold it, see `clean`.
_FENCE = "\ue000"
# Nothing is loaded and nothing runs, whatever stands in a name, but the one script named by its digest.
_POLICY = "default-src 'none'; style-src 'unsafe-inline'"


def clean(text: str) -> str:
    """Return text without control, private and direction-turning characters, each shown as a replacement mark."""
    return "".join(_LOST if _unwanted(character) else character for character in text)


def _unwanted(character: str) -> bool:
    if character in "\n\t":
        return False
    return character in _TURNING or unicodedata.category(character) in ("Cc", "Co", "Cs")


def node(tag: str, *parts: Part, **attributes: str | float | None) -> Element:
    """Return an element: `class_` stands for class, other underscores for hyphens; None leaves an attribute out.

    Example:
        >>> tostring(node("b", "a < b", class_="size"), encoding="unicode")
        '<b class="size">a &lt; b</b>'
    """
    element = Element(tag, {_attribute(k): _value(v) for k, v in attributes.items() if v is not None})
    for part in parts:
        _put(element, part)
    return element


def nodes(tag: str, texts: Iterable[Part], **attributes: str | float | None) -> list[Element]:
    """Return one element for each text."""
    return [node(tag, text, **attributes) for text in texts]


def _attribute(name: str) -> str:
    return name.rstrip("_").replace("_", "-")


def _value(value: str | float) -> str:
    return clean(value) if isinstance(value, str) else f"{value:.6g}"


def _put(element: Element, part: Part) -> None:
    if part is None:
        return
    if isinstance(part, Element):
        element.append(part)
    elif len(element):
        element[-1].tail = (element[-1].tail or "") + _text(part)
    else:
        element.text = (element.text or "") + _text(part)


def _text(part: str) -> str:
    return part if part.startswith(_FENCE) and part.endswith(_FENCE) else clean(part)


def place(number: int) -> str:
    """Return the mark of the place where a finished drawing goes, see `page`."""
    return f"{_FENCE}{number}{_FENCE}"


def page(title: str, body: Element, drawings: Iterable[str] = (), script: str = "") -> str:
    """Return the whole HTML file, style put in; nothing in it is fetched, and nothing run but `script`.

    Args:
        title: of the page.
        body: the body element.
        drawings: finished SVG texts, for the marks `place(0)`, `place(1)`, ...
        script: the program's own, put at the end of the body.
    """
    style = files("straighten.sheet").joinpath("bench.css").read_text(encoding="utf-8")
    head = node(
        "head",
        node("meta", charset="utf-8"),
        node("meta", http_equiv="Content-Security-Policy", content=_policy(script)),
        node("meta", name="viewport", content="width=device-width, initial-scale=1"),
        node("title", title),
        node("style", style),
    )
    if script:
        body.append(node("script", script))
    text = tostring(node("html", head, body, lang="en"), encoding="unicode", method="html")
    for number, drawing in enumerate(drawings):
        text = text.replace(place(number), drawing)
    return f"<!doctype html>\n{text}\n"


def _policy(script: str) -> str:
    """Return what the browser may do: with the script's own digest it runs, and nothing else does."""
    if not script:
        return _POLICY
    digest = b64encode(sha256(script.encode("utf-8")).digest()).decode("ascii")
    return f"{_POLICY}; script-src 'sha256-{digest}'"
