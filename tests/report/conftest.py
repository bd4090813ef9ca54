"""One run, its page, and one browser for all tests of a worker."""

import shutil
import tomllib
from pathlib import Path

import pytest

from sim.scenario.file import check_scenario, find_scenario, load_scenario
from sim.study.compare import compare
from viz.report.page import report_page

BROWSERS = ("chromium", "chromium-browser", "google-chrome")
YARD = (Path(__file__).parents[1] / "scenarios" / "yard.toml").read_text(encoding="utf-8")
MARKUP, FROM_RIGHT = "<script>alert(1)</script>", "\u05d4\u05d2\u05d4 <b> \u0627\u0644\u0623\u0648\u0644"


@pytest.fixture(scope="session")
def compared_of():
    """The comparison of a scenario's text, changed by (old, new) pairs."""

    def made(text, *changes):
        for old, new in changes:
            assert old in text
            text = text.replace(old, new)
        return compare(check_scenario(tomllib.loads(text), "tried.toml"), Path(), "tried.toml")

    return made


@pytest.fixture(scope="session")
def yard():
    """The text of the small scenario."""
    return YARD


@pytest.fixture(scope="session")
def markup():
    """A name that looks like HTML."""
    return MARKUP


@pytest.fixture(scope="session")
def from_right():
    """A name that is written from right to left."""
    return FROM_RIGHT


@pytest.fixture(scope="session")
def odd(compared_of):
    """The small scenario with names that look like HTML and that are written from right to left."""
    return compared_of(YARD, ('name = "ideal"', f'name = "{MARKUP}"'), ('name = "turntable"', f'name = "{FROM_RIGHT}"'))


@pytest.fixture(scope="session")
def bend_run():
    """The first shipped scenario."""
    path = find_scenario("first-bend")
    return compare(load_scenario(path, "first-bend"), path.parent, "first-bend")


@pytest.fixture(scope="session")
def bend_page(bend_run):
    return report_page(bend_run)


@pytest.fixture(scope="session")
def browser():
    """The system's browser without a screen; tests that need it are skipped where there is none."""
    playwright = pytest.importorskip("playwright.sync_api", reason="playwright is not installed: pip install '.[test]'")
    found = next(filter(None, map(shutil.which, BROWSERS)), None)
    if found is None:
        pytest.skip("no Chromium on this machine: apt-get install chromium")
    with playwright.sync_playwright() as driver:
        opened = driver.chromium.launch(executable_path=found, args=["--no-sandbox"])
        yield opened
        opened.close()


@pytest.fixture
def opened(browser, tmp_path):
    """Open a page's text at a width; what the console said and what was asked of the network is kept beside it."""
    contexts = []

    def at(text, width=1280, height=900, **options):
        file = tmp_path / f"page-{len(contexts)}.html"
        file.write_text(text, encoding="utf-8", newline="\n")
        context = browser.new_context(viewport={"width": width, "height": height}, **options)
        contexts.append(context)
        page = context.new_page()
        page.said, page.asked = [], []
        page.on("console", lambda message: page.said.append(message.text))
        page.on("pageerror", lambda fault: page.said.append(str(fault)))
        page.on("dialog", lambda dialog: page.said.append(dialog.message))
        page.on("request", lambda request: page.asked.append(request.url))
        page.goto(file.as_uri())
        return page

    yield at
    for context in contexts:
        context.close()
