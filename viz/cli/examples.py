"""A whole command as an example, for whoever left a part of one out."""

from collections.abc import Collection
from pathlib import Path

from sim.errors import InputError
from sim.scenario.file import find_scenario
from viz.cli.shell import quoted
from viz.shared.runs import run_name

# Of each command, words that run as they stand; where it takes a run, after `scrubwise run first-bend`.
EXAMPLES = {
    "run": "first-bend", "angles": "first-bend", "corner": "first-bend --radius 8 --speed 5",
    "assemble": "quay-loop --setup kinked --out assemble.pdf", "template": "quay-loop --setup kinked --out template.pdf",
    "bench": "quay-loop floor-readings --setup drop", "knock": "first-bend", "coast": "coast-down --mass 145", "search": "first-bend",
    "spread": "first-bend --literature", "contest": "class-contest", "watch": "first-bend-run", "report": "first-bend-run --out page.html",
    "new": "our-car.toml", "measure": "--out sheets.pdf", "lesson": "1 --out lessons", "words": "kingpin", "manual": "start",
}  # fmt: skip
TAKE_RUN = ("watch", "report")  # commands whose first word is the folder of a run


def whole_command(command: str, given: list[str], named: bool) -> str:
    """A command that is whole: what was given with the options that it lacks, or where its first word lacks, an example.

    command : its name; given : the words behind it, as typed; named : whether they hold the scenario, run or file that it is about
    """
    example = EXAMPLES[command].split()
    first = next((place for place, word in enumerate(example) if word.startswith("--")), len(example))
    positional, options = example[:first], example[first:]
    words = [word for word in given if word != "--json"]
    if not named:
        words = positional + words
    elif command in TAKE_RUN:
        first_word = next((place for place, word in enumerate(words) if not word.startswith("-")), None)
        words = [_run_of(word) if place == first_word else word for place, word in enumerate(words)]
    lacking = []
    for option in " ".join(options).split("--")[1:]:
        name = f"--{option.split()[0]}"
        # A set-up's name belongs to the example's own scenario.
        if (not named or name != "--setup") and not _has(given, name):
            lacking.append(f"--{option.strip()}")
    return " ".join(["scrubwise", command, *map(quoted, words), *lacking])


def meant_command(words: list[str], commands: Collection[str], near: str) -> str:
    """What somebody may have meant whose words name no command, or too many things; empty where that cannot be told.

    words : as typed; commands : that there are; near : the command whose name is nearest to the first word, or ""
    """
    first, rest = words[0], words[1:]
    if first in commands:
        name = "-".join(word for word in rest if not word.startswith("-"))
        if _is_scenario(name):
            return _asked([first, name, *(word for word in rest if word.startswith("-"))])
        return f"a name that holds a blank stands in quotes; see scrubwise {first} --help"
    if first.startswith("-"):
        later = next((place for place, word in enumerate(rest) if word in commands or _is_scenario(word)), None)
        if later is None:
            return ""
        behind = [*rest[later:], first, *rest[:later]]
        return _asked(behind if rest[later] in commands else ["run", *behind])
    if first.casefold() == "help":
        about = next((word for word in rest if word in commands), None)
        return f"write scrubwise {about} --help" if about else "write scrubwise --help, or scrubwise manual for the pages"
    if _is_scenario(first) or first.casefold().endswith(".toml"):
        return _asked(["run", *words])
    joined = "-".join(word for word in words if not word.startswith("-"))
    if _is_scenario(joined):
        return _asked(["run", joined])
    if Path(first).is_dir():
        return _asked(["watch", *words])
    return _asked([near, *rest]) if near else ""


def _asked(words: list[str]) -> str:
    return f"did you mean {' '.join(['scrubwise', *map(quoted, words)])}?"


def _is_scenario(word: str) -> bool:
    try:
        find_scenario(word)
    except InputError:
        return False
    return True


def _has(words: list[str], option: str) -> bool:
    return any(word.partition("=")[0] == option for word in words)


def _run_of(word: str) -> str:
    """The folder of a run, where a shipped scenario or a scenario's file is named in its place.  word : as typed"""
    if Path(word).is_dir():
        return word
    try:
        return str(run_name(find_scenario(word)))
    except InputError:
        return word
