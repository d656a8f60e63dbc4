"""The pages are built so that no text from a head file can become markup, style or script."""

from html.parser import HTMLParser

from hypothesis import given
from hypothesis import strategies as st

from straighten.sheet.markup import clean, node, page, place

HOSTILE = [
    "<script>alert(1)</script>",
    '" onload="alert(1)',
    "</style><b>",
    "</title><i>",
    "]]>",
    "&lt;b&gt;",
    "'><svg/onload=x>",
]


class Reader(HTMLParser):
    """Every tag and all text of a page, as a browser's parser sees them."""

    def __init__(self):
        super().__init__(convert_charrefs=True)
        self.tags, self.attributes, self.text = [], [], []

    def handle_starttag(self, tag, attrs):
        self.tags.append(tag)
        self.attributes += [f"{tag}.{name}" for name, _ in attrs]

    def handle_data(self, data):
        self.text.append(data)


def read(text):
    reader = Reader()
    reader.feed(text)
    return reader


@given(st.one_of(st.sampled_from(HOSTILE), st.text(max_size=60)))
def test_any_text_stays_text(text):
    body = node("body", node("p", text, title=text), node("svg", node("text", text), aria_label=text))
    found = read(page(text, body))
    assert sorted(set(found.tags)) == ["body", "head", "html", "meta", "p", "style", "svg", "text", "title"]
    assert set(found.attributes) <= {
        "html.lang", "meta.charset", "meta.http-equiv", "meta.content", "meta.name", "p.title", "svg.aria-label",
    }  # fmt: skip


def test_text_comes_back_as_it_was_written():
    for text in HOSTILE:
        assert text in "".join(read(page("t", node("body", node("p", text)))).text)


def test_marks_that_turn_the_reading_direction_and_control_characters_are_shown_as_lost():
    assert clean("pump\u202egnp.exe\u0007\ue000") == "pump\ufffdgnp.exe\ufffd\ufffd"
    assert clean("Zylinderkopf Größe 4, 頭, café") == "Zylinderkopf Größe 4, 頭, café"


def test_a_drawing_goes_to_its_place_and_a_name_cannot_ask_for_one():
    body = node("body", node("p", place(0)), node("p", f"x{place(0)}"), node("figure", place(0)))
    text = page("t", body, ["<svg>drawn</svg>"])
    assert text.count("<svg>drawn</svg>") == 2
    assert "x\ufffd0\ufffd" in text


def test_nothing_may_be_fetched_or_run():
    text = page("t", node("body"))
    assert "default-src 'none'" in text
    assert "http://" not in text
    assert "https://" not in text
    assert "<script" not in text
    assert "script-src" not in text


def test_the_one_script_that_may_run_is_named_by_its_digest():
    """The digest of an empty file, and of "1", by coreutils' sha256sum and base64."""
    text = page("t", node("body"), script="1")
    assert "script-src 'sha256-a4ayc/80/OGda4BO/1o/V0etpOqiLx1JwB5S3beHW0s='" in text
    assert text.count("<script>1</script>") == 1
