"""Making lessons: figures worked out now, filled into the pages for pupils and teacher, in a folder written whole or not at all."""

import shutil
from collections.abc import Callable, Sequence
from pathlib import Path

from sim.errors import InputError
from sim.scenario.file import dump_scenario
from sim.store.run_folder import check_target, run_folder
from viz.lesson.catalogue import LESSONS, Lesson, Told
from viz.lesson.say import GAP
from viz.shared.html import page_room

ROOM = Path(__file__).parent / "pages"
PUPILS, TEACHER = "lesson-{}.html", "lesson-{}-answers.html"
WARNING = "Warning: "  # how a warning begins in the terminal
SAFETY = (
    "Lessons do not check a car. Have a competent adult check steering, brakes and battery before anybody drives, keep fingers out of "
    "linkages, test away from people and traffic, and never on a public road."
)


def write_lessons(lessons: Sequence[Lesson], folder: Path, begun: Callable[[Lesson], None] = lambda one: None) -> list[str]:
    """Make lessons and write them into a folder; lessons that it holds already and are not made anew stay.

    lessons : to make; folder : to write or replace; begun : called before each is made
    Returns the names of the written files.
    Raises InputError where the folder can't be written, or holds what is no lesson; that then still stands.
    """
    check_target(folder)
    others = [] if not folder.is_dir() else sorted(one for one in folder.iterdir() if not one.name.startswith(("scrubwise-run", ".")))
    foreign = [one.name for one in others if not one.name.startswith("lesson-")]
    if foreign:
        raise InputError(str(folder), foreign[0], "this folder holds something else, which lessons would replace", "name a new folder")
    made: dict[str, str] = {}
    for one in lessons:
        begun(one)
        made |= lesson_files(one, one.maker(), folder)
    with run_folder(folder) as new:
        for kept in others:
            if not any(kept.name.startswith((f"lesson-{one.number}.", f"lesson-{one.number}-")) for one in lessons):
                shutil.copyfile(kept, new / kept.name)
        for name, text in made.items():
            with open(new / name, "w", encoding="utf-8", newline="\n") as stream:
                stream.write(text)
    return list(made)


def lesson_files(lesson: Lesson, told: Told, folder: Path) -> dict[str, str]:
    """A lesson's pages, and the scenarios that its pupils run, by file name.  lesson : Lesson; told : what it found; folder : their own."""
    room = page_room(ROOM, ()).get_template(f"{lesson.name}.html")
    shown = dict(told.words) | {
        "lesson": lesson, "count": len(LESSONS), "picture": told.picture, "caption": told.caption, "safety": SAFETY,
        "takes": {part: _minutes(spent) for part, spent in lesson.plan}, "hands": [_minutes(spent) for spent in lesson.hands],
        "plan": clock(lesson), "before": _minutes(lesson.before), "paths": {one: _typed(folder, one) for one in told.files},
        "warned": [(name, line.removeprefix(WARNING)) for name, lines in told.warned.items() for line in lines],
    }  # fmt: skip
    files = {name.format(lesson.number): room.render(shown, answers=name == TEACHER) for name in (PUPILS, TEACHER)}
    return files | {name: f"# Made by `scrubwise lesson {lesson.number}`.\n{dump_scenario(one)}" for name, one in told.files.items()}


def clock(lesson: Lesson) -> list[tuple[str, str, str]]:
    """Of each part of a lesson its name, from which minute to which it goes, and its minutes.  lesson : Lesson."""
    rows, at = [], 0
    for part, spent in lesson.plan:
        rows.append((part, f"{at} to {at + spent}", _minutes(spent)))
        at += spent
    return rows


def _minutes(spent: int) -> str:
    return f"{spent}{GAP}min"


def _typed(folder: Path, name: str) -> str:
    """A file as a command line takes it, from where the lesson was made; a folder written in full is another machine's business."""
    path = f"{folder.name if folder.is_absolute() else folder.as_posix()}/{name}"
    return f'"{path}"' if " " in path else path
