"""Lessons and glossary in a real browser: quiet, narrow and wide, read by machines, on both papers."""

import importlib.util
import json
import re
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

from viz.lesson.catalogue import LESSONS
from viz.lesson.make import write_lessons
from viz.words.html import words_page

SCRIPT = Path(__file__).with_name("in_browser.py")
FOUND = re.compile(r"What the program found\s+\d+\smin")
MOST_SIDES = 3  # of a lesson on paper
NEEDED = ("playwright", "axe_playwright_python", "pypdfium2")


@pytest.fixture(scope="module")
def shown(tmp_path_factory):
    """Folder of all pages, and what the browser made of each by its file's name."""
    missing = [name for name in NEEDED if importlib.util.find_spec(name) is None]
    if missing or not any(map(shutil.which, ("chromium", "chromium-browser", "google-chrome"))):
        pytest.skip(f"not on this machine: {', '.join(missing) or 'Chromium'}")
    folder = tmp_path_factory.mktemp("made") / "lessons"
    write_lessons(LESSONS, folder)
    (folder / "words.html").write_text(words_page(), encoding="utf-8")
    ran = subprocess.run([sys.executable, str(SCRIPT), str(folder)], capture_output=True, text=True, check=False)
    assert ran.returncode == 0, ran.stderr
    return folder, json.loads(ran.stdout)


@pytest.mark.slow
def test_pages_are_quiet_fit_every_width_and_can_be_read_by_machines(shown):
    _, told = shown
    assert len(told) == 2 * len(LESSONS) + 1
    for name, one in told.items():
        assert one["said"] == [], name
        assert len(one["asked"]) == 1, name
        assert {width: wide for width, wide in one["widths"].items() if wide > int(width)} == {}, name
        assert one["violations"] == [], name


@pytest.mark.slow
@pytest.mark.parametrize("paper", ["A4", "Letter"])
def test_a_lesson_prints_on_few_sides_and_prediction_stands_alone(shown, paper):
    import pypdfium2

    folder, _ = shown
    files = sorted(folder.glob(f"lesson-*.{paper}.pdf"))
    assert len(files) == 2 * len(LESSONS)
    for file in files:
        document = pypdfium2.PdfDocument(file)
        sides = [one.get_textpage().get_text_range() for one in document]
        document.close()
        assert len(sides) <= MOST_SIDES, file.name
        assert "Predict first" in sides[0]
        # The heading, with its minutes; the plan of the lesson names it, too.
        assert [bool(FOUND.search(one)) for one in sides[:2]] == [False, True]
