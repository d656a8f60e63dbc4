"""Pages in headless Chromium. Outside CI the tests are skipped where no Chromium is installed; in CI they fail."""

import os
import shutil
from importlib.util import find_spec

import pytest

# Nothing is fetched, no first-run page, no background traffic: the browser only shows files of this test.
QUIET = [
    "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run", "--disable-background-networking",
    "--disable-component-update", "--disable-sync",
]  # fmt: skip


def chromium():
    return shutil.which("chromium") or shutil.which("chromium-browser") or shutil.which("google-chrome")


@pytest.fixture(scope="package")
def browser(tmp_path_factory):
    path = chromium()
    if path is None and not os.environ.get("CI"):
        pytest.skip("no Chromium here; `.ci/run` installs it")
    assert path is not None, "CI has no Chromium: .ci/run installs it"
    assert find_spec("playwright"), (
        "playwright is missing: pip install playwright (no browser download is needed)"
    )
    from playwright.sync_api import sync_playwright

    with sync_playwright() as driver:
        profile = tmp_path_factory.mktemp("profile")
        context = driver.chromium.launch_persistent_context(
            str(profile), executable_path=path, headless=True, args=QUIET
        )
        yield context
        context.close()


@pytest.fixture
def shown(browser, tmp_path):
    """Open a page's text at a width, and keep what the console says."""
    opened = []

    def show(text, width=360, height=780):
        file = tmp_path / f"page-{len(opened)}.html"
        file.write_text(text, encoding="utf-8")
        page = browser.new_page()
        page.set_viewport_size({"width": width, "height": height})
        page.told = []
        page.on("console", lambda message: page.told.append(f"{message.type}: {message.text}"))
        page.on("pageerror", lambda fault: page.told.append(f"fault: {fault}"))
        page.on(
            "request",
            lambda request: (
                page.told.append(f"fetched {request.url}") if not request.url.startswith("file:") else None
            ),
        )
        page.on("dialog", lambda dialog: (page.told.append("a dialog opened"), dialog.dismiss()))
        page.goto(file.as_uri())
        opened.append(page)
        return page

    yield show
    for page in opened:
        page.close()
