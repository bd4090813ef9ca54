"""The glossary: every term that people meet has an entry or a reason for none, entries are found, and the page shows each.

Terms are keys of scenarios, of `--json` and of tables to fill, headings of tables, labels of plots and names of losses.
`pytest tests/words/test_words.py --store-answers` writes the manual's page "Words" anew.
"""

import ast
import json
import re
from dataclasses import fields, is_dataclass
from fnmatch import fnmatchcase
from functools import cache
from html import unescape
from html.parser import HTMLParser
from pathlib import Path
from typing import Any, get_args, get_type_hints

import pytest
from pydantic import BaseModel

import sim.coast.result
import sim.search.result
from sim.assemble.figures import AssembleResult
from sim.bench.kinds import COLUMNS
from sim.bench.result import BenchResult, PlanResult
from sim.contest.results import ContestResult
from sim.contest.rules import DEMANDS
from sim.errors import InputError
from sim.scenario.measured import measured_table
from sim.scenario.scenario import Scenario
from sim.scenario.uncertainty import FREE_PLAY
from sim.study.angles import AnglesResult
from sim.study.corner import CornerResult, LadderTurn
from sim.study.knock import KnockResult
from sim.study.maps import MapResult
from sim.study.summary import PaceSummary, RunSummary
from sim.template.result import TemplateResult
from viz.manual.pages import FOLDER
from viz.shared.brief import MOST_LINES, WIDTH
from viz.words.drawings import SCENES, drawing_of
from viz.words.glossary import GROUPS, find_words, glossary, heading_words, words_for
from viz.words.html import inline, label_of, words_page
from viz.words.report import manual_page

ROOT = Path(__file__).resolve().parents[2]
RESULTS = (
    RunSummary, PaceSummary, AnglesResult, CornerResult, LadderTurn, MapResult, KnockResult, TemplateResult, AssembleResult, ContestResult,
    BenchResult, PlanResult, sim.coast.result.StraightCoast, sim.coast.result.CircleCoast, sim.search.result.SearchResult,
)  # fmt: skip
SIDES = ("left", "right")  # a table's heading stands in a pair with one of these
HEAD = re.compile(r"<th[^>]*>([^<{]*)</th>")  # of a page's table, without what is filled in
LABELS = {"set_xlabel", "set_ylabel"}


@cache
def scenario_keys() -> set[str]:
    """Every key of a scenario, also those that stand for a measured number."""
    found, left = set(), [Scenario]
    while left:
        model = left.pop()
        found |= {*model.model_fields, *measured_table(model).model_fields}
        left += [inner for field in model.model_fields.values() for inner in _models(field.annotation)]
    return found


def _models(annotation: Any) -> list[Any]:
    own = [annotation] if isinstance(annotation, type) and issubclass(annotation, BaseModel) else []
    return own + [inner for part in getattr(annotation, "__args__", ()) for inner in _models(part)]


@cache
def json_keys() -> set[str]:
    """Every key that `--json` prints: fields of the results' types, and keys that a room of viz writes itself."""
    found, seen, left = set(), set(), list(RESULTS)
    while left:
        kind = left.pop()
        if kind in seen:
            continue
        seen.add(kind)
        found |= {field.name for field in fields(kind)}
        left += [part for hint in get_type_hints(kind).values() for part in _parts(hint) if is_dataclass(part)]
    for file in (ROOT / "viz").glob("*/numbers.py"):
        for node in ast.walk(ast.parse(file.read_text(encoding="utf-8"))):
            if isinstance(node, ast.Dict):
                found |= {key.value for key in node.keys if isinstance(key, ast.Constant) and isinstance(key.value, str)}
    return found


def _parts(hint: Any) -> set[Any]:
    return {hint}.union(*map(_parts, get_args(hint)))


def table_columns() -> set[str]:
    """Columns of the table that `bench` reads and of a run's traces, demands of a contest's rules, and what only doubt has a key for."""
    trace = ast.parse((ROOT / "sim" / "lap" / "trace.py").read_text(encoding="utf-8"))
    (columns,) = (node for node in ast.walk(trace) if isinstance(node, ast.FunctionDef) and node.name == "columns")
    keys = {key.value for node in ast.walk(columns) if isinstance(node, ast.Dict) for key in node.keys if isinstance(key, ast.Constant)}
    return {column.name for column in COLUMNS} | {str(key) for key in keys} | set(DEMANDS) | {FREE_PLAY}


def loss_causes() -> set[str]:
    """What sentences, plots and pages call the losses of a lap."""
    ledger = ast.parse((ROOT / "sim" / "lap" / "ledger.py").read_text(encoding="utf-8"))
    (causes,) = (node for node in ast.walk(ledger) if isinstance(node, ast.FunctionDef) and node.name == "causes")
    return {str(key.value) for node in ast.walk(causes) if isinstance(node, ast.Dict) for key in node.keys if isinstance(key, ast.Constant)}


@cache
def shown_headings() -> set[str]:
    """Headings of tables and labels of plots, as far as they are written out in the texts of viz."""
    python = {words for file in sorted((ROOT / "viz").rglob("*.py")) for words in headings_in(file.read_text(encoding="utf-8"))}
    # A lesson's page explains its own headings where they stand.
    pages = (file for file in sorted((ROOT / "viz").rglob("*.html")) if file.parents[1].name != "lesson")
    texts = (unescape(file.read_text(encoding="utf-8")) for file in pages)
    return python | {heading_words(one) for text in texts for one in HEAD.findall(text) if one.strip()}


def headings_in(text: str) -> set[str]:
    """Headings and labels of one module.  text : of it."""
    found = set()
    for node in ast.walk(ast.parse(text)):
        if isinstance(node, ast.Tuple) and len(node.elts) == 2 and isinstance(node.elts[1], ast.Constant) and node.elts[1].value in SIDES:
            found |= _texts(node.elts[0])
        elif isinstance(node, ast.Assign) and any(isinstance(one, ast.Name) and one.id.casefold() == "headings" for one in node.targets):
            found |= {text for one in ast.walk(node.value) for text in _texts(one)}
        elif isinstance(node, ast.Call) and isinstance(node.func, ast.Attribute) and node.func.attr in LABELS and node.args:
            found |= _texts(node.args[0])
        elif isinstance(node, ast.Call) and isinstance(node.func, ast.Name) and node.func.id == "Figure" and node.args:
            found |= _texts(node.args[0])  # of the contest's pages
        elif isinstance(node, ast.keyword) and node.arg == "label":
            found |= _texts(node.value)
        elif isinstance(node, ast.Dict):
            lists = (
                value
                for key, value in zip(node.keys, node.values, strict=True)
                if isinstance(key, ast.Constant) and key.value == "headings"
            )
            found |= {text for value in lists for one in ast.walk(value) for text in _texts(one)}
    return {heading_words(one) for one in found if any(sign.isalpha() for sign in one) and one not in SIDES}


def _texts(node: ast.expr) -> set[str]:
    """What a heading says: its text, or what stands written out in one with figures in it."""
    if isinstance(node, ast.Constant):
        return {node.value} if isinstance(node.value, str) else set()
    if isinstance(node, ast.JoinedStr):
        return {"".join(part.value if isinstance(part, ast.Constant) else "#" for part in node.values)}
    return set()


COLLECTORS = (scenario_keys, json_keys, table_columns, shown_headings, loss_causes)
# What has no entry, by the reason why.
NO_ENTRY = {
    "the name, place or kind of something, in plain words": {
        "title",
        "name",
        "names",
        "members",
        "file",
        "files",
        "line",
        "first_line",
        "last_line",
        "letter",
        "item",
        "items",
        "what",
        "kind",
        "kinds",
        "first",
        "second",
        "number",
        "written",
        "pages",
        "paper",
        "there",
        "back",
        "doing",
        "placing",
        "scale bar",
        "#",
        "Software",
        "path",
        "lesson",
        "hand_is",
        "at this place",
        "m after the start",
        "its steering",
        "my guess: 1 needs least",
    },
    "a table or list that holds words of their own": {
        "car",
        "rear_tyre",
        "tyre",
        "columns",
        "rows",
        "inputs",
        "pairs",
        "settings",
        "settings_used",
        "lap",
        "shows",
        "risks",
        "dangers",
        "demanded",
        "from_deg",
        "to_deg",
    },
    "a sentence, or a yes or no, that explains itself": {
        "contradictions",
        "advice",
        "assumed",
        "doubts",
        "notes",
        "warnings",
        "reason",
        "verdict",
        "missing_keys",
        "missing",
        "loses",
        "of it",
        "air, brakes and the rest",
        "all",
        "more",
        "to_tell",
        "to_tell_again",
        "finished",
        "unfinished",
        "known",
        "used",
        "small",
        "recommended",
        "refused",
        "serves",
        "replayed",
        "left_out",
        "meets_time",
        "gets round",
        "tighter",
        "best",
        "against",
        "ground",
        "its ground",
        "distribution",
        "made in",
        "time [s]; a cross is a row that was left out",
    },
    "a count or a share of the thing named beside it": {
        "examples",
        "points",
        "points_left_out",
        "points_used",
        "tolerance_percent",
        "model N #",
        "candidates",
    },
    "a bound from which on a part counts as off, explained with that": {"worth_deg", "worth_turns"},
}


def without_entry(terms: set[str]) -> list[str]:
    """Terms with neither an entry nor a reason for none."""
    return sorted(term for term in terms if not words_for(term) and not any(term in excused for excused in NO_ENTRY.values()))


@pytest.fixture(scope="module")
def terms():
    return set().union(*(collect() for collect in COLLECTORS))


@pytest.mark.parametrize("collect", COLLECTORS, ids=lambda one: one.__name__)
def test_every_term_has_an_entry_or_a_reason_for_none(collect):
    found = collect()
    assert len(found) >= 9
    assert without_entry(found) == []


def test_a_term_without_entry_is_found():
    text = 'table = plain_table(("wobble\\nmm", "right"), ("set-up", "left"))\naxes.set_xlabel(f"grump of {name} [J]")\n'
    assert headings_in(text) == {"wobble", "set-up", "grump of #"}
    assert without_entry({*headings_in(text), "wobble_mm"}) == ["grump of #", "wobble", "wobble_mm"]


def test_no_entry_and_no_reason_is_left_over(terms):
    patterns = {pattern for one in glossary() for pattern in one.stands}
    assert sorted(one for one in patterns if not any(fnmatchcase(term, one) for term in terms)) == []
    excused = [term for reason in NO_ENTRY.values() for term in reason]
    assert sorted(term for term in excused if term not in terms or words_for(term)) == []
    assert len(excused) == len(set(excused))


def test_words_that_were_missing_once():
    for name in ("kingpin offset", "steering ratio", "caster trail", "brush", "flying lap", "slip loss", "chi-square"):
        assert [one.name for one in find_words(name)] == [name]


# Words of the trade, of the workshop and of the computer that the texts use and that nobody explained.
USED = (
    "batten", "groove", "tread", "kerb", "curvature", "rim", "hub", "eye", "jaw", "beam", "spindle", "king bolt", "castle nut",
    "split pin", "self-locking nut", "spacer", "collar", "shaft", "clamp", "axis", "suspension", "frame flex", "rigid", "gravity", "radian",
    "damper", "stiffness", "worst case", "GPX", "CSV", "TOML", "JSON", "ampere", "ohm", "volt", "controller", "lead-acid", "lithium",
    "judgement", "residuals", "scatter", "standard deviation", "log", "plumb line", "bob", "straight edge", "lath", "spirit level",
    "callipers", "luggage scale", "turn plates", "chocks", "drawbar", "fairing", "slides", "centreline",
)  # fmt: skip


@cache
def all_texts() -> str:
    """What viz and sim may say, without the glossary itself, in small letters and with one blank between words."""
    files = [file for house in ("viz", "sim") for kind in ("py", "md", "html") for file in sorted((ROOT / house).rglob(f"*.{kind}"))]
    told = "\n".join(file.read_text(encoding="utf-8") for file in files if "words" not in file.parts and file.name != "glossary.md")
    return " ".join(told.casefold().split())


@pytest.mark.parametrize("word", USED)
def test_a_word_that_the_texts_use_is_explained(word):
    (found,) = find_words(word)
    assert word in (found.name, *found.also)
    assert re.search(rf"\b{word.casefold()}", all_texts())


# --- entries ----------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("one", glossary(), ids=lambda one: one.name)
def test_an_entry_is_one_plain_sentence(one):
    assert one.means[0].isupper()
    assert one.means.endswith(".")
    assert not re.search(r"[.!?] [A-Z]", one.means)
    assert len(one.means) <= 190
    assert len(one.means.split()) <= 34
    assert "|" not in one.means + one.unit + one.sign + one.iso
    # A word is not explained by itself alone.
    assert one.means.casefold().rstrip(".") != one.name.casefold()


def test_names_are_unlike():
    names = [name.casefold() for one in glossary() for name in (one.name, *one.also)]
    assert sorted(name for name in names if names.count(name) > 1) == []
    anchors = [one.anchor for one in glossary()]
    assert len(anchors) == len(set(anchors))
    assert {one.group for one in glossary()} == set(GROUPS)


def test_a_figure_of_an_entry_has_its_unit():
    """Each key that ends in a unit belongs to an entry that tells one."""
    units = re.compile(r"_(mm|m|deg|kg|N|W|J|Wh|Ah|V|A|s|min|h|ohm|m_per_s|m_per_s2|m2|N_m)$")
    keys = {key for key in scenario_keys() if units.search(key)}
    assert sorted(key for key in keys if not any(one.unit for one in words_for(key))) == []


# --- finding ----------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(("wanted", "found"), [
    ("Kingpin  Offset", ["kingpin offset"]), ("kingpin_offset_mm", ["kingpin offset"]), ("ground arm", ["kingpin offset"]),
    ("Ackermann", ["ideal steering"]), ("rear_left_load_kg", ["load"]), ("peukert", ["Peukert exponent"]), ("toe", ["toe-in"]),
    ("slip loss W", ["slip loss"]), ("deflection", ["tyre deflection"]), ("flying start", ["flying lap"]), ("Wh", ["watt-hour"]),
    ("axle line", ["axle line"]), ("axle lines", ["axle line"]), ("yardstick", ["yardstick"]),
    ("kinked arms", ["arm angle"]),
    ("half of ideal", ["fraction"]), ("outer wheel", ["inner wheel"]), ("joule", ["joule"]),
    ("laps on a charge", ["laps on a charge"]), ("laps_per_charge", ["laps on a charge"]),
])  # fmt: skip
def test_a_word_is_found_by_name_key_heading_or_piece(wanted, found):
    assert [one.name for one in find_words(wanted)] == found


def test_each_name_finds_its_entry():
    for one in glossary():
        assert one in find_words(one.name)
        assert all(one in find_words(name) for name in one.also)


@pytest.mark.parametrize(("wanted", "line"), [
    ("ring", 'words: TERM: there is no word "ring"; did you mean "string"?'),  # and not steering
    ("kingpn", 'words: TERM: there is no word "kingpn"; did you mean "kingpin"?'),
    ("chisquare", 'words: TERM: there is no word "chisquare"; did you mean "chi-square"?'),
    ("qqqqq", 'words: TERM: there is no word "qqqqq"; `scrubwise words --explain` lists them all'),
    ("", 'words: TERM: there is no word ""; `scrubwise words --explain` lists them all'),
    ("x\x1b[31m", 'words: TERM: there is no word "x?[31m"; `scrubwise words --explain` lists them all'),
])  # fmt: skip
def test_the_near_word_is_suggested(wanted, line):
    with pytest.raises(InputError) as refused:
        find_words(wanted)
    assert str(refused.value) == line


# --- what is printed and written --------------------------------------------------------------------------------------


def test_command(scrubwise, tmp_path):
    code, out, err = scrubwise("words", "kingpin", "offset")
    assert (code, err) == (0, "")
    assert out.startswith("kingpin offset: How far the middle of the tyre's contact")
    assert "  above 0: tyre outside the axis\n" in out
    assert "from memory" in out
    assert scrubwise("words", "kingpn")[::2] == (2, 'scrubwise: words: TERM: there is no word "kingpn"; did you mean "kingpin"?\n')
    assert scrubwise("words", "slip", "--out", "w.html")[0] == 2
    assert scrubwise("words", "--out", "w.txt")[0] == 2
    assert scrubwise("words", "--out", "w.html")[:2] == (0, "Written to w.html; open it in a browser\n")
    assert (tmp_path / "w.html").read_text(encoding="utf-8") == words_page()
    told = json.loads(scrubwise("words", "slip", "loss", "--json")[1])["words"]
    assert [one["name"] for one in told] == ["slip loss"]
    assert set(told[0]) == {"name", "group", "means", "unit", "sign", "iso", "also", "stands", "drawing"}
    assert len(json.loads(scrubwise("words", "--json")[1])["words"]) == len(glossary())


def test_the_list_fits_one_screen_and_explain_has_every_sentence(scrubwise):
    code, out, _ = scrubwise("words")
    assert code == 0
    assert len(out.splitlines()) <= MOST_LINES
    assert max(map(len, out.splitlines())) <= WIDTH
    every = " ".join(scrubwise("words", "--explain")[1].split())
    assert [one.name for one in glossary() if f"{one.name}: {one.means.replace('`', '')}" not in every] == []


def test_the_manuals_page_is_made_from_the_entries(request):
    file = FOLDER / "glossary.md"
    if request.config.getoption("--store-answers"):
        file.write_text(manual_page(), encoding="utf-8")
        pytest.skip("written anew")
    assert file.read_text(encoding="utf-8") == manual_page()


class Read(HTMLParser):
    """A page's words, its drawings' labels, its places and links."""

    def __init__(self, text):
        super().__init__()
        self.words, self.labels, self.places, self.links, self.loads = [], [], [], [], []
        self.feed(text)

    def handle_starttag(self, tag, attrs):
        told = dict(attrs)
        if tag == "svg":
            self.labels.append(told.get("aria-label"))
        self.places += [told["id"]] if "id" in told else []
        self.links += [told["href"]] if "href" in told else []
        self.loads += [told[key] for key in ("src", "srcset", "data") if key in told]
        assert tag not in ("script", "link", "iframe")

    def handle_data(self, data):
        self.words.append(data)


def test_page_has_each_word_with_its_drawing_and_needs_no_network():
    text = words_page()
    page = Read(text)
    said = " ".join(" ".join(page.words).split())
    for one in glossary():
        assert " ".join(one.means.replace("`", " ").split()) in said.replace(" ,", ",").replace(" .", ".") or "`" in one.means
        assert label_of(one) in page.labels
    assert len(page.labels) == len(glossary())
    assert {link.removeprefix("#") for link in page.links} <= set(page.places)
    assert page.loads == []
    assert not re.search(r"url\(|@import|https?:", text)
    assert len(text) < 1_000_000


def test_every_entry_has_a_drawing_and_every_scene_is_used():
    drawn = {one.drawing for one in glossary()}
    assert "" not in drawn
    assert {name.partition(":")[0] for name in drawn} == set(SCENES)
    made = {name: str(drawing_of(name, "x")) for name in drawn}
    alike = {}
    for name, text in made.items():
        alike.setdefault(text, []).append(name)
    # A part that a scene does not know would leave it unmarked, and like another.
    assert [names for names in alike.values() if len(names) > 1] == []
    assert [name for name, text in made.items() if "#D55E00" not in text] == []


def test_marks_in_a_sentence_are_text():
    assert str(inline('a `b<c` <script> & "d"')) == "a <code>b&lt;c</code> &lt;script&gt; &amp; &#34;d&#34;"
