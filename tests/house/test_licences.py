"""The manual lists the licences of all that is installed with the program.

`pytest tests/house/test_licences.py --store-answers` writes the list anew from what the installed packages state.
"""

import re
import tomllib
from importlib.metadata import PackageNotFoundError, distribution
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
PAGE = ROOT / "viz" / "manual" / "security.md"
TABLE = re.compile(r"^\| library \|.*\n(?:\|.*\n)+", re.M)
# How packages write the same licence, over their versions; the first that a statement names counts.
FAMILIES = {
    "LGPL": r"LGPL|Lesser General Public",
    "MPL": r"MPL|Mozilla",
    "PSF": r"PSF|Python Software Foundation|matplotlib",
    "HPND": r"HPND|Historical Permission|MIT-CMU",
    "BSD": r"BSD",
    "Apache": r"Apache",
    "MIT": r"\bMIT\b",
}


def needed():
    """Every library that pyproject.toml names directly -> what it is for."""
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    groups = {"the program": project["dependencies"]} | {name: project["optional-dependencies"][name] for name in ("cluster", "test")}
    found = {}
    for group, lines in groups.items():
        for line in lines:
            found.setdefault(re.match(r"[\w.-]+", line)[0], group)
    return found


def stated(name):
    """The licence that an installed package states, in a few words."""
    about = distribution(name)
    classes = [one.rpartition(" :: ")[2] for one in about.metadata.get_all("Classifier") or [] if one.startswith("License ::")]
    written = (about.metadata.get("License") or "").strip().partition("\n")[0]
    file = next((one for one in about.files or [] if one.name.upper().startswith("LICEN")), None)
    text = about.locate_file(file).read_text(encoding="utf-8").strip().partition("\n")[0] if file else ""
    short = [about.metadata.get("License-Expression"), written if len(written) <= 60 else "", *classes, text]
    return next((one for one in short if one and family(one)), "")


def family(statement):
    places = {name: re.search(words, statement) for name, words in FAMILIES.items()}
    return min((found.start(), name) for name, found in places.items() if found)[1] if any(places.values()) else None


def listed():
    """Library -> (what it is for, its licence), of the manual's page."""
    table = TABLE.search(PAGE.read_text(encoding="utf-8"))[0]
    rows = [[cell.strip() for cell in line.strip("|").split("|")] for line in table.splitlines() if line.startswith("| ")]
    return {name: (group, licence) for name, group, licence in rows[1:]}


def test_every_library_is_listed_with_its_licence(pytestconfig):
    if pytestconfig.getoption("--store-answers"):
        rows = [f"| {name} | {group} | {stated(name)} |" for name, group in sorted(needed().items())]
        table = "\n".join(["| library | needed for | licence |", "|---|---|---|", *rows, ""])
        PAGE.write_text(TABLE.sub(lambda _: table, PAGE.read_text(encoding="utf-8")), encoding="utf-8", newline="\n")
    assert {name: group for name, (group, _) in listed().items()} == needed()


@pytest.mark.parametrize("name", sorted(needed()))
def test_a_listed_licence_is_what_the_package_states(name):
    try:
        statement = stated(name)
    except PackageNotFoundError:
        pytest.skip("not installed here")
    assert family(statement) is not None, "the package states no licence that is known here"
    assert family(listed()[name][1]) == family(statement), statement
