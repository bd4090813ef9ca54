"""The manual's pages as they are written: Markdown texts, each with a topic, a title and a sentence that says what it holds."""

import re
from dataclasses import dataclass
from difflib import get_close_matches
from pathlib import Path

from sim.errors import InputError

FOLDER = Path(__file__).parent
# In the order in which a newcomer reads them.
PAGES = (
    "start", "tour", "watch", "report", "floor", "coast", "race", "studies", "contest", "lessons", "results", "glossary", "scenario",
    "commands", "python", "trust", "checks", "targets", "safety", "security",
)  # fmt: skip
_FENCE = re.compile(r"^```.*?^```[^\n]*$", re.M | re.S)  # what stands in it is shown as it is
_SENTENCE = re.compile(r"(.+?[.?!])(?=\s|$)", re.S)


@dataclass(frozen=True)
class Page:
    """A page.  topic : its name on the command line; title : its heading; about : its first sentence; text : in Markdown."""

    topic: str
    title: str
    about: str
    text: str


def read_page(topic: str) -> Page:
    """A page by its exact topic, one of PAGES."""
    text = (FOLDER / f"{topic}.md").read_text(encoding="utf-8")
    heading, _, rest = text.partition("\n")
    about = _SENTENCE.match(rest.strip())
    return Page(topic, heading.removeprefix("# "), " ".join((about[1] if about else "").replace("`", "").split()), text)


def find_page(wanted: str) -> str:
    """The topic that a person means: its name, a beginning that no other has, or a command; capitals and blanks around it do not matter.

    wanted : as the user wrote it; of several words the first may name the page.
    Raises InputError with the page that has most to say about the word, or the nearest topic.
    """
    key = wanted.strip().casefold().removesuffix(".md")
    if key in PAGES:
        return key
    begun = [topic for topic in PAGES if key and topic.startswith(key)]
    if len(begun) == 1:
        return begun[0]
    if key in headings(read_page("commands").text):
        return "commands"
    first = key.partition(" ")[0]
    if first in PAGES:
        return first
    shown = "".join(sign if sign.isprintable() else "?" for sign in wanted.strip()[:40])
    if begun:
        raise InputError("manual", "TOPIC", f'{len(begun)} pages begin with "{shown}"', f"write one of {', '.join(begun)}")
    raise InputError("manual", "TOPIC", f'there is no page "{shown}"', _hint(key))


def _hint(key: str) -> str:
    word = re.compile(rf"(?<!\w){re.escape(key)}(?!\w)", re.I)
    texts = {topic: read_page(topic).text for topic in PAGES}

    def said(topic: str) -> tuple[int, int, int]:
        """A heading of its own tells more than a word in a heading, and that more than any number of words in the text."""
        heads = headings(texts[topic])
        return heads.count(key), sum(bool(word.search(line)) for line in heads), len(word.findall(texts[topic]))

    best = max(PAGES, key=said)
    if key and any(said(best)):
        return f"{best} speaks of it"
    near = get_close_matches(key, PAGES, n=1)
    return f"did you mean {near[0]}?" if near else f"choose one of {', '.join(PAGES)}"


def headings(text: str) -> list[str]:
    """The headings of a page, in their order, without their marks.  text : Markdown."""
    return [match[1].strip() for match in re.finditer(r"^#+ (.+)$", _FENCE.sub("", text), re.M)]


def anchors(names: list[str]) -> list[str]:
    """The names by which links reach headings, as code hosts form them; a name that stands twice gets a number.  names : headings."""
    made: list[str] = []
    for name in names:
        plain = re.sub(r"[^\w\- ]", "", name.casefold()).replace(" ", "-")
        made.append(plain if plain not in made else next(new for n in range(1, len(names)) if (new := f"{plain}-{n}") not in made))
    return made


def outside_fences(text: str, pattern: re.Pattern[str], new: str) -> str:
    """Replace a pattern, but not in what is shown as it is.  text : Markdown; pattern, new : as for `re.sub`."""
    parts, end = [], 0
    for fence in _FENCE.finditer(text):
        parts += [pattern.sub(new, text[end : fence.start()]), fence[0]]
        end = fence.end()
    return "".join([*parts, pattern.sub(new, text[end:])])
