"""HTML and SVG built from elements: text is escaped by the writer itself, and what could break a page is taken out."""

from __future__ import annotations

import unicodedata
from base64 import b64encode
from collections.abc import Iterable, Sequence
from hashlib import sha256
from importlib.resources import files
from xml.etree.ElementTree import Element, tostring

from straighten.sheet.plain import Range
from straighten.units import INCH, System, outward, own_first, show, show_temperature

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
    told = {name.rstrip("_").replace("_", "-"): value for name, value in attributes.items()}
    element = Element(tag, {name: _value(value) for name, value in told.items() if value is not None})
    for part in parts:
        _put(element, part)
    return element


def nodes(tag: str, texts: Iterable[Part], **attributes: str | float | None) -> list[Element]:
    """Return one element for each text."""
    return [node(tag, text, **attributes) for text in texts]


def table(
    titles: Iterable[Part],
    rows: Iterable[Sequence[Part]],
    *,
    caption: Element | None = None,
    class_: str | None = None,
) -> Element:
    """Return a table: titles above, and in each row its name first; a cell that is a `td` already stands as it is."""
    head = node("thead", node("tr", *nodes("th", titles, scope="col")))
    body = node("tbody", *(_row(name, cells) for name, *cells in rows))
    return node("table", caption, head, body, class_=class_)


def _row(name: Part, cells: Iterable[Part]) -> Element:
    made = (x if isinstance(x, Element) and x.tag == "td" else node("td", x) for x in cells)
    return node("tr", node("th", name, scope="row"), *made)


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

    The finished SVG texts of `drawings` stand for the marks `place(0)`, `place(1)`, ...; the script ends the body.
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


# --- numbers on paper: the person's own unit big, the other small, rounded to what a blade can tell -----------------------

NOTHING = 5e-6  # m: less than this is printed as 0.00 mm


def split(text: str) -> tuple[str, str]:
    """Return own unit and other unit of a text such as "0.20 mm (8 thou)".

    Example:
        >>> split("0.20 mm (8 thou)")
        ('0.20 mm', '8 thou')
    """
    own, _, other = text.removesuffix(")").partition(" (")
    return own, other


def pair(text: str) -> Element:
    """Return a text in both units with the own one big."""
    own, other = split(text)
    return node("span", node("b", own), " ", node("small", other), class_="size")


def size(value: float, system: System, *, big: bool = False) -> Element:
    """Return a length [m]."""
    return pair(show(value, system, big=big))


def span(found: Range, system: System) -> Element:
    """Return a range of lengths [m] for a table whose heading says how likely it is."""
    mm, thou = f"{outward(found.low, found.high, 'mm')} mm", f"{outward(found.low, found.high, 'inch')} thou"
    return pair(own_first(mm, thou, system))


def temperature(value: float, system: System) -> Element:
    """Return a temperature [degC]."""
    return pair(show_temperature(value, system).replace(" C", " °C").replace(" F", " °F"))


def ruler(station: float, system: System) -> str:
    """Return a station as it is read off a rule, in the person's unit without its name.

    Example:
        >>> ruler(0.21, "mm"), ruler(0.0862, "mm"), ruler(0.0862, "inch")
        ('210', '86', '3.39')
    """
    return f"{station * 1e3:.0f}" if system == "mm" else f"{station / INCH:.2f}"


def bare(values: Sequence[float], system: System) -> tuple[str, str]:
    """Return lengths [m] that stand in one row without their units, own unit first: "0.20 + 0.05", "8 + 2".

    Example:
        >>> bare([0.0002032, 0.0000508], "mm")
        ('0.20 + 0.05', '8 + 2')
    """
    pairs = [split(show(value, system)) for value in values]
    own, other = (" + ".join(text.rsplit(" ", 1)[0] for text in texts) for texts in zip(*pairs, strict=True))
    return own, other


def bare_range(found: Range, system: System) -> tuple[str, str]:
    """Return a range without units for a narrow box, own unit first: "0.06–0.14", "2.5–5.5".

    A gap is never less than nothing, so what lies below counts as 0.
    """
    low, high = max(found.low, 0.0), max(found.high, 0.0)
    if high < NOTHING:
        return "nothing", "goes"
    other: System = "inch" if system == "mm" else "mm"
    own, second = (outward(low, high, one).replace(" to ", "–") for one in (system, other))
    return own, second
