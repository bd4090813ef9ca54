"""The lessons: their names, how long they take, and what makes each."""

from collections.abc import Callable, Mapping, Sequence
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
    warned : what the program itself warns of when one of them is run, by file name
    """

    words: Mapping[str, Any]
    picture: Markup
    caption: str
    files: Mapping[str, Scenario] = field(default_factory=dict)
    warned: Mapping[str, Sequence[str]] = field(default_factory=dict)


@dataclass(frozen=True)
class Lesson:
    """A lesson.

    number, name : by which it is asked for, from 1 on; title : its heading; about : in one sentence
    plan : its parts in the order in which they are held, each by its heading with its minutes in class, a judgement [min]
    hands : of the experiment, minutes a step, a judgement [min]
    before : minutes that the teacher needs to print it, get things out and try the experiment, a judgement [min]
    seconds : that making it takes on a usual machine, seen [s]; minutes : in class, the sum of the plan [min]
    """

    number: int
    name: str
    title: str
    about: str
    plan: tuple[tuple[str, int], ...]
    hands: tuple[int, ...]
    before: int
    seconds: float
    minutes: int = field(init=False)

    def __post_init__(self) -> None:
        object.__setattr__(self, "minutes", sum(minutes for _, minutes in self.plan))

    @property
    def drives(self) -> bool:
        """Whether its figures come from laps, for which the fast code may have to be made."""
        return self.name in DRIVING

    @property
    def maker(self) -> Callable[[], Told]:
        """What works out its figures; its room of sim is opened when it is asked for."""
        from importlib import import_module

        return import_module(f"viz.lesson.topics.{self.name}").found  # type: ignore[no-any-return]


PREDICT, RUN, FOUND, CARE = "Predict first", "Run it", "What the program found", "Take care"
DRIVING = ("parallel", "toe")  # names of the lessons whose figures come from laps
HANDS, QUESTIONS = "With your own hands", "Questions"


def _lesson(number: int, name: str, title: str, about: str, minutes: Mapping[str, int], hands: tuple[int, ...], before: int,
            seconds: float) -> Lesson:  # fmt: skip
    """A lesson whose experiment takes as long as its steps.  minutes : of the other parts, in the order in which they are held [min]."""
    parts = dict(minutes) | {HANDS: sum(hands)}
    return Lesson(number, name, title, about, tuple((part, parts[part]) for part in minutes), hands, before, seconds)


LESSONS = (
    _lesson(1, "paths", "Every wheel has a circle of its own",
            "The path of the inner and the outer wheel, with chalk and string.",
            {PREDICT: 5, CARE: 1, HANDS: 0, RUN: 3, FOUND: 6, QUESTIONS: 8}, (2, 3, 4, 4, 4, 5), 15, 0.5),
    _lesson(2, "parallel", "Parallel or ideal: at a walk and at speed",
            "What it costs when both front wheels turn alike, and where.",
            {PREDICT: 5, RUN: 4, FOUND: 10, CARE: 1, HANDS: 0, QUESTIONS: 8}, (4, 5, 8), 20, 4.0),
    _lesson(3, "toe", "What a degree of toe costs",
            "Wheels that point a little inwards, all the way round.",
            {PREDICT: 5, RUN: 3, FOUND: 8, CARE: 1, HANDS: 0, QUESTIONS: 6}, (5, 6, 8, 3), 25, 4.0),
    _lesson(4, "turntable", "The turntable: its lever, its tip and its kick",
            "Why one kerb tears harder at some hands than at others.",
            {PREDICT: 5, RUN: 4, FOUND: 10, CARE: 1, HANDS: 0, QUESTIONS: 8}, (4, 3, 3, 3, 4), 20, 0.5),
    _lesson(5, "slip", "The tyre slips anyway",
            "What ideal steering can save at speed, and what it cannot.",
            {PREDICT: 5, RUN: 4, FOUND: 12, CARE: 1, HANDS: 0, QUESTIONS: 9}, (3, 4, 2, 5), 15, 1.0),
    _lesson(6, "measure", "Measure your own car",
            "Coast down, and to the floor with string and tape.",
            {PREDICT: 5, RUN: 6, FOUND: 8, CARE: 3, HANDS: 0, QUESTIONS: 8}, (6, 20, 8, 16, 10), 45, 2.0),
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
    hint = (
        f"did you mean {near[0]}, or a number from 1 to {len(LESSONS)}?"
        if near
        else f"write a number from 1 to {len(LESSONS)}; `scrubwise lesson` lists them"
    )
    raise InputError("lesson", "N", f'there is no lesson "{shown}"', hint)
