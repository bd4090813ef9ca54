"""A class contest to begin one's own with: the shipped one's rules and entries in a new folder."""

from pathlib import Path

from sim.contest.rules import find_contest
from sim.store.run_folder import new_folder
from viz.shared.files import interruptible

SHIPPED = "class-contest"


def copy_contest(folder: Path) -> list[str]:
    """Write the shipped class contest's files into a folder that is new or empty, all of them or none.

    folder : to make, as the user wrote it
    Returns the files' names.
    Raises InputError where there is something already, or where it can't be written.
    """
    texts = {file.name: file.read_text(encoding="utf-8") for file in sorted(find_contest(SHIPPED).glob("*.toml"))}
    with interruptible(), new_folder(folder) as made:
        for name, text in texts.items():
            (made / name).write_text(text, encoding="utf-8", newline="\n")
    return list(texts)
