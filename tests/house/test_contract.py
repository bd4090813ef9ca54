"""The contract of the rooms: a room imports only from rooms of a lower level, and what it keeps to itself stays there.

`pytest tests/house/test_contract.py --store-answers` writes DEVELOPERS.md's table of rooms anew.
"""

import ast
import re
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]
# Rooms of one level do not import each other.
SIM = [
    {"errors", "judgements", "keys"}, {"kernels", "files", "store"}, {"car", "course", "linkages"}, {"scenario"}, {"steering", "pace"},
    {"turn"}, {"lap"}, {"study"}, {"spread", "contest", "coast", "bench", "template", "assemble"}, {"search"}, {"surface"},
]  # fmt: skip
# Any of these may import any room of `sim`.
VIZ = [
    {"shared", "manual"},
    {"run", "angles", "corner", "knock", "bench", "coast", "search", "spread", "template", "new", "words"},
    {"contest", "replay", "assemble", "lesson", "report", "figures"},
    {"cli"},
]
LEVEL = {(house, room): level for house, levels in (("sim", SIM), ("viz", VIZ)) for level, rooms in enumerate(levels) for room in rooms}
SCREENS = {"viz", "matplotlib", "typer", "rich", "pygame"}  # what `sim` does not know
# What stands in an __init__ beside its purpose, by its first words: the one name that the installed command asks for, and what
# `import sim` offers, opened when it is first used.
HELD = {
    "viz/cli/__init__.py": ["from viz.cli.entry import main", "__all__ = ['main']"],
    "sim/__init__.py": ["TYPE_CHECKING = False", "if TYPE_CHECKING:", "__all__ = [", "def __getattr__(name: str) -> object:",
                        "def __dir__() -> list[str]:"],
}  # fmt: skip
TABLE = re.compile(r"^\| level \| room \| purpose \|\n(?:\|.*\n)+", re.M)


def module_of(file, root=ROOT):
    return ".".join(file.relative_to(root).with_suffix("").parts).removesuffix(".__init__")


def files_of(root=ROOT):
    return sorted(file for house in ("sim", "viz") for file in (root / house).rglob("*.py"))


def imported(tree):
    """(module, names) of every import, inside functions too; names is empty for `import module`."""
    for node in ast.walk(tree):
        if isinstance(node, ast.Import):
            yield from ((one.name, []) for one in node.names)
        elif isinstance(node, ast.ImportFrom):
            # "." and the like would hide which room is meant
            yield "." * node.level + (node.module or ""), [one.name for one in node.names]


def room_of(module):
    """("sim", "lap") of "sim.lap.lockstep.rates"; ("sim", "") of "sim"."""
    house, _, rest = module.partition(".")
    return house, rest.partition(".")[0]


def modules_meant(tree):
    """Every imported module of the program, with the names taken from it; `from sim import errors` means sim.errors."""
    for module, names in imported(tree):
        if module.startswith("."):
            yield module, names
        elif module.partition(".")[0] in ("sim", "viz"):
            if "." in module or not names:
                yield module, names
            else:
                yield from ((f"{module}.{name}", []) for name in names)


def breaches(root=ROOT):
    """What breaks the contract, a line each."""
    lines = []
    for file in files_of(root):
        place, tree = file.relative_to(root).as_posix(), ast.parse(file.read_text(encoding="utf-8"))
        here = room_of(module_of(file, root))
        if here[1] and here not in LEVEL:
            lines.append(f"{place}: {here[1]} is no room of the contract")
            continue
        modules = {}  # name in this file -> module of another room
        for node in ast.walk(tree):
            if isinstance(node, ast.ImportFrom) and node.module and room_of(node.module)[0] in ("sim", "viz"):
                modules |= {one.asname or one.name: node.module for one in node.names if room_of(node.module) != here}
        for module, names in modules_meant(tree):
            there = room_of(module)
            if there == here or there[1] == "":
                continue
            if module.startswith("."):
                lines.append(f"{place} imports {module}: name the room in full")
            elif there not in LEVEL:
                lines.append(f"{place} imports {module}: no room of the contract")
            elif there[0] != here[0] and here[0] == "sim":
                lines.append(f"{place} imports {module}: sim knows no screen")
            elif there[0] == here[0] and here[1] and LEVEL[there] >= LEVEL[here]:
                lines.append(f"{place} imports {module}: level {LEVEL[there]} is not below {LEVEL[here]}")
            lines += [f"{place} imports {name} of {module}: private over a wall" for name in names if name.startswith("_")]
        for node in ast.walk(tree):
            if isinstance(node, ast.Attribute) and isinstance(node.value, ast.Name) and node.attr.startswith("_"):
                module = f"{modules.get(node.value.id, '')}.{node.value.id}".replace(".", "/")
                if node.value.id in modules and ((root / f"{module}.py").is_file() or (root / module).is_dir()):
                    lines.append(f"{place}:{node.lineno} reads {node.attr} of {node.value.id}: private over a wall")
    return lines


def test_rooms_import_from_lower_rooms_only():
    assert breaches() == []


def test_the_contract_sees_a_breach(tmp_path):
    """Upwards, sideways, over a wall, inside a function, from sim to viz, beside the rooms."""
    texts = {
        "sim/car/tyre.py": "def late():\n    from sim.lap.drive import drive_lap\n",
        "sim/course/line.py": "from sim.car.tyre import late\n",
        "sim/lap/drive.py": "from sim.car import tyre\nfrom sim.car.tyre import _secret\ntyre._other()\n",
        "sim/bench/fit.py": "import viz.run.report\n",
        "sim/stray.py": "",
        "viz/run/report.py": "from sim.lap import drive\nfrom viz.contest import words\nfrom viz.shared.words import plain_table\n",
        "viz/contest/words.py": "import viz.run.report\n",
        "viz/shared/words.py": "",
    }
    for name, text in texts.items():
        (tmp_path / name).parent.mkdir(parents=True, exist_ok=True)
        (tmp_path / name).write_text(text, encoding="utf-8")
    assert breaches(tmp_path) == [
        "sim/bench/fit.py imports viz.run.report: sim knows no screen",
        "sim/car/tyre.py imports sim.lap.drive: level 6 is not below 2",
        "sim/course/line.py imports sim.car.tyre: level 2 is not below 2",
        "sim/lap/drive.py imports _secret of sim.car.tyre: private over a wall",
        "sim/lap/drive.py:3 reads _other of tyre: private over a wall",
        "sim/stray.py: stray is no room of the contract",
        "viz/run/report.py imports viz.contest: level 2 is not below 1",
    ]


def test_sim_imports_nothing_that_shows():
    shown = [
        (file.relative_to(ROOT).as_posix(), module)
        for file in files_of() if file.is_relative_to(ROOT / "sim")
        for module, _ in imported(ast.parse(file.read_text(encoding="utf-8"))) if module.partition(".")[0] in SCREENS
    ]  # fmt: skip
    assert shown == []


def test_an_init_holds_its_purpose_and_nothing_that_runs():
    folders = {file.parent for file in files_of()}
    assert not [folder for folder in folders if not (folder / "__init__.py").is_file()]
    for folder in folders:
        tree = ast.parse((folder / "__init__.py").read_text(encoding="utf-8"))
        assert ast.get_docstring(tree), folder
        held = HELD.get((folder / "__init__.py").relative_to(ROOT).as_posix(), [])
        assert len(tree.body) == 1 + len(held), folder
        assert [node for node, text in zip(tree.body[1:], held, strict=True) if not ast.unparse(node).startswith(text)] == [], folder


def table_of_rooms(root=ROOT):
    """DEVELOPERS.md's table: each room's level and the first paragraph of its docstring."""
    rows = []
    for (house, room), level in sorted(LEVEL.items(), key=lambda item: (item[0][0], item[1], item[0][1])):
        base = root / house / room
        places = [base.with_suffix(".py")] if not base.is_dir() else sorted(base.rglob("__init__.py"))
        for place in places:
            purpose = (ast.get_docstring(ast.parse(place.read_text(encoding="utf-8"))) or "").partition("\n\n")[0]
            name = place if place.name != "__init__.py" else place.parent
            mark = f"L{level}" if house == "sim" else f"V{level + 1}"
            rows.append(f"| {mark} | `{name.relative_to(root).as_posix()}` | {' '.join(purpose.split())} |\n")
    return "| level | room | purpose |\n|---|---|---|\n" + "".join(rows)


def test_table_of_rooms_is_that_of_the_docstrings(request):
    file = ROOT / "DEVELOPERS.md"
    text = file.read_text(encoding="utf-8")
    if request.config.getoption("--store-answers"):
        file.write_text(TABLE.sub(lambda _: table_of_rooms(), text), encoding="utf-8")
        pytest.skip("written anew")
    assert [match[0] for match in TABLE.finditer(text)] == [table_of_rooms()]


def unknown_names(text, root=ROOT):
    """Names in "One lap, followed" that stand in no file: each is a room, a file and a definition in it."""
    part = text.partition("## One lap, followed\n")[2].partition("\n## ")[0]
    unknown = []
    for name in re.findall(r"`([^`]+)`", part):
        module, _, defined = name.rpartition(".")
        house = root if module.startswith("viz.") else root / "sim"
        file = house.joinpath(*module.split(".")).with_suffix(".py")
        tree = ast.parse(file.read_text(encoding="utf-8")) if module and file.is_file() else ast.Module([], [])
        if defined not in {getattr(node, "name", "") for node in tree.body}:
            unknown.append(name)
    return unknown


def test_one_lap_followed_names_what_there_is():
    text = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
    assert len(re.findall(r"`", text.partition("## One lap, followed\n")[2].partition("\n## ")[0])) >= 20
    assert unknown_names(text) == []
    assert unknown_names("## One lap, followed\n`lap.drive.no_such` and `nowhere.at_all`\n") == ["lap.drive.no_such", "nowhere.at_all"]
