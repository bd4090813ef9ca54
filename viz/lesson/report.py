"""`lesson`: the list of lessons."""

from collections.abc import Sequence
from pathlib import Path
from typing import Any

from rich.text import Text

from viz.lesson.catalogue import LESSONS, Lesson
from viz.shared.words import plain_table

TOLD_FROM = 2.0  # seconds that something takes, from which on it is said


def list_report() -> list[Any]:
    """What `lesson` prints."""
    table = plain_table(("number", "right"), ("lesson", "left"), ("minutes", "right"), ("made in", "right"))
    for one in LESSONS:
        table.add_row(f"{one.number}", Text(f"{one.title}\n{one.about}"), f"{one.minutes}", making(one))
    return [
        Text("Lessons with this program's own figures", style="bold"), table, Text(""),
        Text("Make one: scrubwise lesson 1 --out lessons    All of them: scrubwise lesson --out lessons"),
        Text("Each is a page to print for pupils and one with the answers for the teacher. On paper they need no computer in class; "
             "the commands in them show the same on one."),
    ]  # fmt: skip


def making(lesson: Lesson) -> str:
    """How long making a lesson takes, where that is worth saying.  lesson : Lesson."""
    return f"about {lesson.seconds:.0f} s" if lesson.seconds > TOLD_FROM else ""


def written_report(lessons: Sequence[Lesson], files: Sequence[str], folder: Path) -> list[Any]:
    """What `lesson --out` prints.  lessons : that were made; files : that were written; folder : into which."""
    lines = [Text(f"{one.number}. {one.title}: {folder / f'lesson-{one.number}.html'}") for one in lessons]
    runs = [name for name in files if name.endswith(".toml")]
    if runs:
        lines.append(
            Text(f"The commands in {'it' if len(lessons) == 1 else 'them'} are typed here; they run {', '.join(runs)} of that folder.")
        )
    return [*lines, Text("Answers for the teacher stand in the pages whose names end in -answers. Print from a browser, A4 or Letter.")]
