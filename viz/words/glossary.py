"""The glossary: its entries as they stand in words.toml, and which one a person means."""

import re
import tomllib
from dataclasses import dataclass
from difflib import get_close_matches
from fnmatch import translate
from functools import cache
from pathlib import Path

from sim.errors import InputError

DATA = Path(__file__).parent / "words.toml"
# In the order in which they are read.
GROUPS = {
    "steering": "Steering", "car": "The car", "turning": "In a bend", "knocks": "Steps and hands", "tyres": "Tyres", "energy": "Energy",
    "course": "Course and pace", "electric": "Motor and battery", "doubt": "How sure", "search": "Searching", "measuring": "Measuring",
    "contest": "Contest",
}  # fmt: skip
ISO_NOTE = "What ISO 8855 calls things is given from memory; the standard itself was not opened."
_UNIT = re.compile(r"\s*(?:\[[^\]]*\]|(?<=\s)(?:J|N|N m|W|Wh|A|m|mm|cm|km|s|deg|kg|%|m/s|m/s2|m/s²|m2|degrees|°))(?=$|,)")
_LONGEST_SHOWN = 60  # signs of what was asked for; no entry's name is longer


@dataclass(frozen=True)
class Word:
    """An entry.

    name, group : of the entry; means : one sentence; unit, sign, iso : empty where there is none to tell
    also : other names; stands : what it stands for, where * is any beginning, middle or end; drawing : of `drawings`, empty for none
    """

    name: str
    group: str
    means: str
    unit: str = ""
    sign: str = ""
    iso: str = ""
    also: tuple[str, ...] = ()
    stands: tuple[str, ...] = ()
    drawing: str = ""

    @property
    def anchor(self) -> str:
        """By which a page's links reach it."""
        return re.sub(r"[^a-z0-9]+", "-", self.name.casefold()).strip("-")

    @property
    def asides(self) -> list[tuple[str, str]]:
        """Unit, sign and the like, each with what it is."""
        pairs = (("unit", self.unit), ("above 0", self.sign), ("ISO 8855", self.iso), ("also", ", ".join(self.also)))
        return [(what, text) for what, text in pairs if text]

    @property
    def keys(self) -> list[str]:
        """The keys of scenarios and of `--json` that it stands for, as far as they are written out."""
        return [one for one in self.stands if "_" in one and " " not in one]


@cache
def glossary() -> tuple[Word, ...]:
    """Every entry, in the order in which they are read."""
    told = tomllib.loads(DATA.read_text(encoding="utf-8"))
    made = []
    for group in GROUPS:
        for entry in told[group]:
            lists = {key: tuple(entry.get(key, ())) for key in ("also", "stands")}
            made.append(Word(**(entry | lists), group=group))
    return tuple(made)


def heading_words(heading: str) -> str:
    """A table's heading or a plot's label as the glossary has it: one line, no unit, small letters.  heading : as it is shown."""
    line = " ".join(heading.split())
    while (shorter := _UNIT.sub("", line).rstrip(" ,:;")) != line:
        line = shorter
    return line[:1].casefold() + line[1:] if line[1:2].islower() or line[1:2] == " " else line


def words_for(term: str) -> list[Word]:
    """The entries that a term belongs to.  term : a key, or a heading as `heading_words` has it."""
    return [one for one in glossary() if term in (one.name, *one.also) or (one.stands and _stands(one).match(term))]


@cache
def _names() -> dict[str, Word]:
    return {name.casefold(): one for one in glossary() for name in (one.name, *one.also)}


@cache
def _stands(one: Word) -> re.Pattern[str]:
    return re.compile("|".join(map(translate, one.stands)))


def find_words(wanted: str) -> list[Word]:
    """The entries that a person means by a name, another name, a key, a heading, or the beginning of a word of a name.

    wanted : as the user wrote it; capitals and blanks around it do not matter
    Raises InputError with the nearest name where there is none.
    """
    key = " ".join(wanted.casefold().split())
    names = _names()
    if key in names:
        return [names[key]]
    for spelling in (wanted.strip(), key, heading_words(" ".join(wanted.split()))):
        stands = words_for(spelling) if spelling else []
        if stands:
            return stands
    spaced = key.replace("-", " ").replace("_", " ")
    within = [one for name, one in names.items() if spaced and f" {spaced}" in f" {name.replace('-', ' ')}"]
    if within and len(spaced) > 2:  # shorter beginnings of words stand in every other name
        return list(dict.fromkeys(within))
    shown = "".join(sign if sign.isprintable() else "?" for sign in wanted.strip()[:_LONGEST_SHOWN])
    near = get_close_matches(key, names, n=1) or get_close_matches(key.partition("_")[0], names, n=1)
    remedy = f'did you mean "{names[near[0]].name}"?' if near else "`scrubwise words --explain` lists them all"
    raise InputError("words", "TERM", f'there is no word "{shown}"', remedy)
