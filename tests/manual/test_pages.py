"""The manual: every page is found, its links lead somewhere, it can be read in a narrow terminal, and as pages it needs no network."""

import json
import os
import re
import shutil
from html.parser import HTMLParser
from io import StringIO
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st
from rich.cells import cell_len
from rich.console import Console

from sim.errors import InputError
from sim.store.run_folder import MARKER
from viz.cli.entry import app
from viz.manual.html import FIRST, body_of, file_of, manual_pages, write_manual
from viz.manual.pages import FOLDER, PAGES, Page, anchors, find_page, headings, read_page
from viz.manual.terminal import list_report, page_report

README = Path(__file__).parents[2] / "README.md"
LINK = re.compile(r"(!?)\[([^\]]*)\]\(([^)]*)\)")
FENCE = re.compile(r"^```.*?^```$", re.M | re.S)
COMMANDS = [command.callback.__name__ for command in app.registered_commands]


# --- what is written --------------------------------------------------------------------------------------------------


def test_every_page_is_listed_and_every_listed_page_is_there():
    assert sorted(PAGES) == sorted(file.stem for file in FOLDER.glob("*.md"))


@pytest.mark.parametrize("topic", PAGES)
def test_a_page_begins_with_its_title_and_a_sentence(topic):
    page = read_page(topic)
    assert page.text.startswith(f"# {page.title}\n\n")
    assert [line for line in FENCE.sub("", page.text).splitlines() if line.startswith("# ")] == [f"# {page.title}"]
    assert 20 <= len(page.about) <= 100
    assert page.about[0].isupper()
    assert page.about[-1] in ".?"
    assert "\n" not in page.about


@pytest.mark.parametrize("file", [README, *(FOLDER / f"{topic}.md" for topic in PAGES)], ids=lambda file: file.stem)
def test_no_command_is_broken_over_two_lines(file):
    """It could not be found by the tests, nor copied by a reader of the text."""
    assert [line for line in FENCE.sub("", file.read_text(encoding="utf-8")).splitlines() if line.count("`") % 2] == []


def broken_links(file):
    """Links of a Markdown file that lead nowhere, and pictures that are not there."""
    text = FENCE.sub("", file.read_text(encoding="utf-8"))
    broken = []
    for picture, _, target in LINK.findall(text):
        name, _, place = target.partition("#")
        there = file if not name else file.parent / name
        known = not picture or there.suffix == ".png"
        if known and there.is_file() and ":" not in name:
            known = not place or place in anchors(headings(there.read_text(encoding="utf-8")))
        else:
            known = False
        if not known:
            broken.append(target)
    return broken


@pytest.mark.parametrize("file", [README, *(FOLDER / f"{topic}.md" for topic in PAGES)], ids=lambda file: file.stem)
def test_links_lead_somewhere(file):
    assert broken_links(file) == []


def test_a_link_that_leads_nowhere_is_found(tmp_path):
    (tmp_path / "a.md").write_text("# A\n\n## B c\n\n[x](#b-c) [x](#c) [x](b.md) [x](a.md#b-c) [x](a.md#d) ![p](a.png)\n", encoding="utf-8")
    assert broken_links(tmp_path / "a.md") == ["#c", "b.md", "a.md#d", "a.png"]


def test_every_page_can_be_reached_from_the_readme():
    linked = {target.partition("#")[0] for _, _, target in LINK.findall(README.read_text(encoding="utf-8"))}
    assert {f"viz/manual/{topic}.md" for topic in PAGES} <= linked


def test_readme_is_one_page():
    text = README.read_text(encoding="utf-8")
    assert len(text.splitlines()) <= 150
    assert text.count("![") == 1
    assert [line for line in text.splitlines() if line.startswith("## ")][-2:] == ["## Safety", "## Licence"]


def test_readme_has_the_command_of_every_question():
    text = README.read_text(encoding="utf-8")
    table = text.partition("| question | command |")[2].partition("\n\n")[0]
    assert {re.search(r"`scrubwise (\w+)", row)[1] for row in table.splitlines()[2:]} == set(COMMANDS)


def test_the_check_runs_the_command_of_the_readme():
    command = re.search(r"^python3 .*pytest$", README.read_text(encoding="utf-8"), re.M)[0]
    assert command in (README.parent / ".ci" / "run").read_text(encoding="utf-8").splitlines()


def test_headings_that_stand_twice_have_anchors_of_their_own():
    assert anchors(["Car, and how", "The `car`", "The car", "The car"]) == ["car-and-how", "the-car", "the-car-1", "the-car-2"]


# --- which page is meant ----------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("wanted", "topic"),
    [
        *((topic, topic) for topic in PAGES),
        (" TOUR ", "tour"),
        ("flo", "floor"),
        ("scenario.md", "scenario"),
        ("bench", "commands"),
        ("Run", "commands"),
        ("scenario keys", "scenario"),
    ],
)
def test_a_page_is_found(wanted, topic):
    assert find_page(wanted) == topic


@pytest.mark.parametrize(
    ("wanted", "line"),
    [
        ("toru", 'manual: TOPIC: there is no page "toru"; did you mean tour?'),
        ("s", 'manual: TOPIC: 5 pages begin with "s"; write one of start, studies, scenario, safety, security'),
        ("rack", 'manual: TOPIC: there is no page "rack"; scenario speaks of it'),
        ("Peukert", 'manual: TOPIC: there is no page "Peukert"; checks speaks of it'),
        ("zzz", f'manual: TOPIC: there is no page "zzz"; choose one of {", ".join(PAGES)}'),
        ("", f'manual: TOPIC: there is no page ""; choose one of {", ".join(PAGES)}'),
        ("../trust", 'manual: TOPIC: there is no page "../trust"; did you mean trust?'),
    ],
)
def test_no_such_page(scrubwise, wanted, line):
    assert scrubwise("manual", wanted) == (2, "", f"scrubwise: {line}\n")
    assert scrubwise("manual", wanted, "--json") == (2, "", f"scrubwise: {line}\n")


@pytest.mark.slow
@given(st.text(max_size=60))
def test_any_word_is_a_page_or_refused_in_one_line(wanted):
    try:
        answer = find_page(wanted)
    except InputError as fault:
        answer = str(fault)
    assert answer in PAGES or (answer.startswith("manual: TOPIC: ") and "\n" not in answer)


# --- in the terminal --------------------------------------------------------------------------------------------------


def printed(report, width):
    console = Console(file=StringIO(), width=width, no_color=True, highlight=False, markup=False)
    for one in report:
        console.print(one)
    return console.file.getvalue()


@pytest.mark.parametrize("width", [40, 80, 200])
@pytest.mark.parametrize("topic", PAGES)
def test_a_page_in_a_terminal_loses_nothing(topic, width):
    page = read_page(topic)
    text = printed(page_report(page), width)
    assert max(map(cell_len, text.splitlines())) <= min(width, 100)
    # All signs that are no marks, in whatever lines and columns they stand
    signs = re.sub(r"\]\([^)]*\)|^\|[-| ]+\|$|```\w*|^#+ |^\d+\. ", "", page.text, flags=re.M)
    for sign in set(re.sub(r"[\s`*|#\[\]\-!_<>\\\d]", "", signs)):
        assert text.count(sign) >= signs.count(sign), sign
    if "…" not in page.text:
        assert "…" not in text


def test_keys_stand_whole_in_a_terminal_of_usual_width():
    page = read_page("scenario")
    text = printed(page_report(page), 80)
    keys = re.findall(r"^\| `(\w+)`", page.text, re.M)
    assert len(keys) > 70
    for key in keys:
        assert re.search(rf"^{key}\b", text, re.M), key


def test_links_and_pictures_in_a_terminal():
    page = Page("x", "X", "", "# X\n\nSee [the tour](tour.md#own), [below](#b).\n\n![A car](pictures/a.png)\n\n```\n[a](tour.md)\n```\n")
    text = " ".join(printed(page_report(page), 80).split())
    assert text == "X See the tour (scrubwise manual tour), below. Picture, to be seen with --out: A car [a](tour.md)"


def test_list_of_pages(scrubwise):
    code, out, err = scrubwise("manual")
    assert (code, err) == (0, "")
    rows = [line for line in out.splitlines()[2:] if not line.startswith(" ")]  # a line that goes on begins with blanks
    assert [line.split()[0] for line in rows[: len(PAGES)]] == list(PAGES)
    narrow = printed(list_report([read_page(topic) for topic in PAGES]), 80)
    assert max(map(len, narrow.splitlines())) <= 80
    assert " ".join(narrow.split()).count(read_page("contest").about.split()[-1]) == 1


def test_a_page_as_json(scrubwise):
    code, out, _ = scrubwise("manual", "--json")
    assert code == 0
    assert [page["topic"] for page in json.loads(out)["pages"]] == list(PAGES)
    code, out, _ = scrubwise("manual", "trust", "--json")
    page = read_page("trust")
    told = {"topic": "trust", "title": page.title, "about": page.about, "markdown": page.text}
    assert json.loads(out) == {"schema": "scrubwise.manual/1"} | told


# --- in a browser -----------------------------------------------------------------------------------------------------


class Parts(HTMLParser):
    """What a page links to, the places in it that can be linked to, its tags and its text."""

    VOID = ("meta", "img", "br", "hr", "wbr")

    def __init__(self, text):
        super().__init__()
        self.links, self.places, self.tags, self.open, self.text = [], [], set(), [], ""
        self.feed(text)
        assert self.open == []

    def handle_starttag(self, tag, attrs):
        self.tags.add(tag)
        if tag not in self.VOID:
            self.open.append(tag)
        self.links += [value for name, value in attrs if name in ("href", "src")]
        self.places += [value for name, value in attrs if name == "id"]
        assert not [name for name, _ in attrs if name.startswith("on")]

    def handle_startendtag(self, tag, attrs):
        self.handle_starttag(tag, attrs)

    def handle_endtag(self, tag):
        assert self.open.pop() == tag

    def handle_data(self, data):
        self.text += data


def test_offline_pages_are_linked_and_need_no_network(tmp_path):
    folder = tmp_path / "manual"
    write_manual(folder)
    parts = {file.name: Parts(file.read_text(encoding="utf-8")) for file in folder.glob("*.html")}
    assert parts.keys() == {FIRST, *map(file_of, PAGES)}
    for name, part in parts.items():
        assert len(part.places) == len(set(part.places))
        assert not part.tags & {"script", "link", "iframe"}
        for link in part.links:
            file, _, place = link.partition("#")
            assert (folder / (file or name)).is_file(), link
            assert not place or place in parts[file or name].places, link
    assert {link for link in parts[FIRST].links} == set(map(file_of, PAGES))
    assert sorted(file.name for file in (folder / "pictures").iterdir()) == sorted(file.name for file in (FOLDER / "pictures").iterdir())
    for name, part in parts.items():
        assert "http" not in "".join(part.links), name


QUICK = ("start", "scenario", "watch")  # commented samples, tables, pictures


@pytest.mark.parametrize("topic", [one if one in QUICK else pytest.param(one, marks=pytest.mark.slow) for one in PAGES])
def test_a_page_in_a_browser_loses_nothing(topic):
    page = read_page(topic)
    text = "".join(Parts(manual_pages()[file_of(topic)]).text.split())
    for block in FENCE.findall(page.text):
        assert "".join(block.strip("`").partition("\n")[2].split()) in text
    for cell in (cell for row in re.findall(r"^\|(.*)\|$", FENCE.sub("", page.text), re.M) for cell in row.split("|")):
        plain = LINK.sub(r"\2", cell).replace("`", "").replace("*", "")
        assert set(cell) <= set(" -") or "".join(plain.split()) in text, cell
    assert Parts(manual_pages()[file_of(topic)]).places == anchors(headings(page.text))


def test_what_looks_like_html_is_text():
    body = body_of(Page("x", "X", "", "# <b>X</b>\n\n<script>alert(1)</script> & [a](tour.md#b) `<i>`\n\n[x](javascript:alert(1))\n"))
    assert "<script" not in body
    assert "<b>" not in body
    assert "<i>" not in body
    assert 'href="javascript' not in body
    assert '<a href="tour.html#b">a</a>' in body
    assert "<title>a &amp; &lt;b&gt;" in _titled("a & <b>")


def _titled(title):
    from jinja2 import Environment, FileSystemLoader

    room = Environment(loader=FileSystemLoader(FOLDER / "layout"), autoescape=True)
    page = Page("x", title, "", "")
    return room.get_template("page.html").render(page=page, body="", file_of=file_of, before=None, after=None)


def test_written_and_replaced(scrubwise, tmp_path):
    code, out, err = scrubwise("manual", "--out", "mine")
    assert (code, out, err) == (0, f"Written to mine; open {Path('mine') / FIRST} in a browser\n", "")
    (tmp_path / "mine" / "tour.html").write_text("old", encoding="utf-8")
    code, out, err = scrubwise("manual", "--out", "mine", "--json")
    assert (code, json.loads(out), err) == (0, {"schema": "scrubwise.manual/1", "written": "mine", "first": FIRST}, "")
    assert "five questions" in (tmp_path / "mine" / "tour.html").read_text(encoding="utf-8")
    assert os.listdir(tmp_path) == ["mine"]


def test_what_is_not_replaced(scrubwise, tmp_path):
    (tmp_path / "photos").mkdir()
    (tmp_path / "photos" / "a.jpg").write_bytes(b"x")
    line = "scrubwise: photos: this folder holds something that Scrubwise did not write; give the name of a new or an empty folder\n"
    assert scrubwise("manual", "--out", "photos") == (2, "", line)
    scrubwise("manual", "--out", "mine")
    (tmp_path / "mine" / "notes.txt").write_text("mine", encoding="utf-8")
    code, out, err = scrubwise("manual", "--out", "mine")
    assert (code, out) == (2, "")
    assert 'the folder also holds "notes.txt", which Scrubwise did not write' in err
    run = tmp_path / "a-run"
    run.mkdir()
    (run / "summary.json").write_text("{}", encoding="utf-8")
    (run / MARKER).write_text('{"format": 1, "written_by": "scrubwise 0", "files": ["summary.json"]}', encoding="utf-8")
    line = "scrubwise: a-run: this folder holds a run, which the manual would replace; give the name of a new folder\n"
    assert scrubwise("manual", "--out", "a-run") == (2, "", line)
    assert sorted(os.listdir(run)) == sorted([MARKER, "summary.json"])
    code, out, err = scrubwise("manual", "tour", "--out", "other")
    assert (code, out) == (2, "")
    assert err == "scrubwise: --out: the folder holds every page; leave the topic or --out out\n"
    assert not (tmp_path / "other").exists()


@pytest.mark.parametrize("name", ["copyfile", "open"])
def test_written_whole_or_not_at_all(scrubwise, tmp_path, monkeypatch, name):
    scrubwise("manual", "--out", "mine")
    before = {file.name: file.read_bytes() for file in (tmp_path / "mine").rglob("*") if file.is_file()}

    def full(*args, **more):
        raise OSError(28, "No space left on device")

    if name == "copyfile":
        monkeypatch.setattr(shutil, "copyfile", full)
    else:
        monkeypatch.setattr("viz.manual.html.open", full, raising=False)
    code, out, err = scrubwise("manual", "--out", "mine")
    assert (code, out) == (2, "")
    assert err == "scrubwise: mine: no space left on the drive; make room or give a folder on another drive\n"
    assert {file.name: file.read_bytes() for file in (tmp_path / "mine").rglob("*") if file.is_file()} == before
    assert [name for name in os.listdir(tmp_path) if not name.endswith("-lock")] == ["mine"]


def test_a_manual_is_no_run(scrubwise):
    scrubwise("manual", "--out", "mine")
    code, out, err = scrubwise("watch", "mine", "--export", "a.png")
    assert (code, out) == (2, "")
    assert err.count("\n") == 1
