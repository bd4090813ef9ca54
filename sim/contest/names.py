"""Teams' names: two of one name are numbered, and names that a reader takes for each other are told."""

import re
from collections.abc import Callable
from unicodedata import category, name, normalize

from sim.contest.file import LONGEST_NAME
from sim.contest.results import NameRemark

# Letters of other scripts that have the shape of a Latin one in most typefaces, and signs that stand in for a letter.  Drawn up by eye,
# a judgement: what is missing here is told apart by spelling alone.
_SHAPES = {
    "АВЕКМНОРСТУХІЈЅԌԚԜҮ": "ABEKMHOPCTYXlJSGQWY", "аеорсухіјѕԁԛԝһкѵү": "aeopcyxijsdqwhkvy",  # Cyrillic
    "ΑΒΕΖΗΙΚΜΝΟΡΤΥΧϹϺ": "ABEZHlKMNOPTYXCM", "αγικνορυχϲ": "ayikvopuxc",  # Greek
    "օսոհցՕՍԼ": "ounhgOUL",  # Armenian
    "0I1|": "olll",
}  # fmt: skip
_ALIKE = str.maketrans({letter: like for letters, likes in _SHAPES.items() for letter, like in zip(letters, likes, strict=True)})
_FILLERS = "\u115f\u1160\u3164\uffa0\u034f\u2800"  # Hangul fillers, the joiner of marks, the empty Braille cell: they show nothing
_SCRIPT = re.compile(r"(LATIN|CYRILLIC|GREEK|ARMENIAN) ")


def same_name(team: str) -> str:
    """What two names have in common that are one: capitals, widths of letters and blanks do not count.  team : a name."""
    return " ".join(normalize("NFKC", normalize("NFKC", team).casefold()).split())


def shape_of(team: str) -> str:
    """What two names have in common that look alike: marks on letters, and letters of other scripts, count as what they resemble.

    team : a name
    """
    bare = "".join(sign for sign in normalize("NFKD", team) if sign not in _FILLERS and not category(sign).startswith("M"))
    return same_name(bare.translate(_ALIKE))


def taken_for(team: str, other: str) -> bool:
    """Whether a reader can take one name for the other.  team, other : names."""
    return same_name(team) == same_name(other) or shape_of(team) == shape_of(other)


def numbered_names(teams: list[str]) -> list[str]:
    """Names of which no two are one: those that are one get a number each, from 1.  teams : as handed in, in the files' order."""
    keys = [same_name(team) for team in teams]
    taken = {key for key in keys if keys.count(key) == 1}
    given = []
    for team, key in zip(teams, keys, strict=True):
        if key in taken and keys.count(key) == 1:
            given.append(team)
            continue
        number = 1
        while same_name(numbered := _with_number(team, number)) in taken:
            number += 1
        taken.add(same_name(numbered))
        given.append(numbered)
    return given


def _with_number(team: str, number: int) -> str:
    """A name and a number, together no longer than a name may be."""
    tail = f" {number}"
    return team[: LONGEST_NAME - len(tail)].rstrip() + tail


def name_remarks(entries: list[tuple[str, str, str]]) -> tuple[NameRemark, ...]:
    """What is to be told of the names.

    entries : (file, name as handed in, name under which it runs) of each accepted entry, in the files' order
    Returns what was numbered, what looks alike, and what mixes scripts so that it looks like another name.
    """
    remarks = []
    for group in _groups(entries, same_name):
        ran = _listed([f'"{given}"' for _, _, given in group])
        files = tuple(file for file, _, _ in group)
        text = f'"{group[0][1]}" is the name of {len(group)} entries ({", ".join(files)})'
        remarks.append(NameRemark(files, f"{text}: they run as {ran}; give each team a name of its own"))
    alike = _groups(entries, shape_of)
    for group in alike:
        if len({same_name(team) for _, team, _ in group}) > 1:
            told = _listed([f'"{given}" ({file}{_mixed_words(team)})' for file, team, given in group])
            remarks.append(NameRemark(tuple(file for file, _, _ in group), f"{told} look alike; look twice which is meant"))
    told_already = {file for group in alike for file, _, _ in group}
    for file, team, given in entries:
        if file not in told_already and _mixed_words(team):
            remarks.append(NameRemark((file,), f'"{given}" ({file}) has{_mixed_words(team)[1:]}: it can be taken for another name'))
    return tuple(remarks)


def _groups(entries: list[tuple[str, str, str]], key_of: Callable[[str], str]) -> list[list[tuple[str, str, str]]]:
    """Entries whose names have the same key, where there is more than one, in the files' order."""
    found: dict[str, list[tuple[str, str, str]]] = {}
    for one in entries:
        found.setdefault(key_of(one[1]), []).append(one)
    return [group for group in found.values() if len(group) > 1]


def _mixed_words(team: str) -> str:
    """Which scripts a name mixes within a word, ready to follow it; empty where it mixes none that look alike."""
    for word in team.split():
        scripts = {found[1].title() for sign in word if (found := _SCRIPT.match(name(sign, "")))}
        if len(scripts) > 1 and any(sign.translate(_ALIKE) != sign for sign in word if not sign.isascii()):
            return f", {' and '.join(sorted(scripts))} letters in one word"
    return ""


def _listed(words: list[str]) -> str:
    return f"{', '.join(words[:-1])} and {words[-1]}"
