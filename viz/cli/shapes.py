"""What JSON documents hold beside the results of `sim`, as types from which their schemas are made."""

from typing import NotRequired, TypedDict

from sim.study.maps import MapResult
from sim.study.summary import PaceSummary
from viz.lesson.catalogue import Lesson
from viz.new.measure import Line
from viz.shared.checks import Check
from viz.words.glossary import Word


class Paces(TypedDict):
    """Of `run --paces`.  paces : the first set-up by every pace policy."""

    paces: NotRequired[tuple[PaceSummary, ...]]


class Checklist(TypedDict):
    """Of `angles --checks`.  checks : before anybody drives; cautions : sentences."""

    checks: NotRequired[tuple[Check, ...]]
    cautions: NotRequired[tuple[str, ...]]


class Mapped(TypedDict):
    """Of `corner --map`.  map : how fast a few radii can be driven."""

    map: NotRequired[MapResult]


class Written(TypedDict):
    """A command that writes one file.  written : the file."""

    written: str


class CopiedContest(Written):
    """Of `contest --copy`.  written : the folder; files : names of what it holds."""

    files: tuple[str, ...]


class Begun(TypedDict):
    """Of `new`.  written : the file, null where nothing was; to_measure : numbers that are still to measure [-]; answered : with --ask."""

    written: str | None
    answered: NotRequired[int]
    to_measure: int


class Sheets(Written):
    """Of `measure`.  pages : how many [-]; setup : whose; numbers : to fill in, a line each."""

    pages: int
    setup: str
    numbers: tuple[Line, ...]


class WrittenManual(Written):
    """Of `manual --out`.  first : the page to open."""

    first: str


class PageLine(TypedDict):
    """A page of the manual.  topic : its name; title : its heading; about : its first sentence."""

    topic: str
    title: str
    about: str


class PageText(PageLine):
    """Of `manual TOPIC`.  markdown : the page."""

    markdown: str


class PageList(TypedDict):
    """Of `manual`.  pages : in the order in which a newcomer reads them."""

    pages: tuple[PageLine, ...]


class RunPages(TypedDict):
    """Of `report`.  written : the files; finding : in one sentence; what_to_do, notes : sentences."""

    written: list[str]
    finding: str
    what_to_do: list[str]
    notes: list[str]


class LessonList(TypedDict):
    """Of `lesson`.  lessons : all of them."""

    lessons: tuple[Lesson, ...]


class WrittenLessons(TypedDict):
    """Of `lesson --out`.  written : the folder; files : in it."""

    written: str
    files: list[str]


class WordList(TypedDict):
    """Of `words`.  words : those asked for, or all."""

    words: list[Word]
