"""The lessons: their names, how long they take, and what makes each."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from difflib import get_close_matches
from typing import Any

from markupsafe import Markup

from sim.errors import InputError
from sim.scenario.scenario import Scenario


@dataclass(frozen=True)
class Told:
    """What a lesson found.

    words : by the name of a placeholder in its page, figures with their units and words that follow from figures
    picture : drawn from these figures; caption : what it shows
    files : scenarios that pupils run, by file name
    """

    words: Mapping[str, Any]
    picture: Markup
    caption: str
    files: Mapping[str, Scenario] = field(default_factory=dict)


@dataclass(frozen=True)
class Lesson:
    """A lesson.

    number, name : by which it is asked for, from 1 on; title : its heading; about : in one sentence
    minutes : in class, the experiment included, a judgement [min]; seconds : that making it takes on a usual machine, seen [s]
    """

    number: int
    name: str
    title: str
    about: str
    minutes: int
    seconds: float

    @property
    def maker(self) -> Callable[[], Told]:
        """What works out its figures; its room of sim is opened when it is asked for."""
        from importlib import import_module

        return import_module(f"viz.lesson.topics.{self.name}").found  # type: ignore[no-any-return]


LESSONS = (
    Lesson(1, "paths", "Every wheel has a circle of its own",
           "The path of the inner and the outer wheel, with chalk and string.", 45, 0.5),
    Lesson(2, "parallel", "Parallel or ideal: at a walk and at speed",
           "What it costs when both front wheels turn alike, and where.", 45, 4.0),
    Lesson(3, "toe", "What a degree of toe costs",
           "Wheels that point a little inwards, all the way round.", 45, 4.0),
    Lesson(4, "turntable", "The turntable: its lever, its tip and its kick",
           "Why one kerb tears harder at some hands than at others.", 45, 0.5),
    Lesson(5, "slip", "The tyre slips anyway",
           "What ideal steering can save at speed, and what it cannot.", 45, 1.0),
    Lesson(6, "measure", "Measure your own car",
           "Coast down, and to the floor with string and tape.", 90, 2.0),
)  # fmt: skip


def find_lesson(wanted: str) -> Lesson:
    """The lesson that a person means by its number or its name.

    wanted : as the user wrote it; capitals and blanks around it do not matter
    Raises InputError where there is none.
    """
    key = wanted.strip().casefold()
    for one in LESSONS:
        if key in (str(one.number), one.name):
            return one
    shown = "".join(sign if sign.isprintable() else "?" for sign in wanted.strip()[:40])
    near = get_close_matches(key, [one.name for one in LESSONS], n=1)
    hint = f"did you mean {near[0]}?" if near else f"write a number from 1 to {len(LESSONS)}; `scrubwise lesson` lists them"
    raise InputError("lesson", "N", f'there is no lesson "{shown}"', hint)
