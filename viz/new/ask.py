"""The questions of `new --ask`: one number after the other, checked at once; the file is whole after each answer."""

import re
from collections.abc import Callable
from dataclasses import dataclass
from difflib import get_close_matches
from math import degrees
from pathlib import Path

from sim.bench.kinds import toe_by_tape, usual_rim
from sim.car.chassis import DRIVES
from sim.errors import InputError
from sim.keys import MILLIMETRE, MILLIMETRES_IN, Key
from sim.linkages.front_end import TOE_IN
from sim.linkages.kind import Kind
from sim.scenario.doubts import doubt, file_doubts
from sim.scenario.file import check_scenario, parse_toml
from sim.scenario.scenario import Scenario
from sim.study.dangers import dangers_of
from sim.study.doubts import doubts_of
from sim.study.ready import entries_of
from viz.new.measure import letters_of
from viz.new.text import Open, also_called, filled, offered_kinds, open_lines, with_drive
from viz.shared.dangers import stop_is_late, stop_line
from viz.shared.files import write_file
from viz.shared.keyboard import HELP

BACK = ("back", "b")
_UNITS = MILLIMETRES_IN | {"millimetres": 1.0}  # of a length, in millimetres
_KNOWN_UNITS = {"_mm": _UNITS, "_kg": {"kg": 1.0}, "_deg": {"deg": 1.0, "degrees": 1.0, "°": 1.0}, "_m2": {"m2": 1.0},
                "_m_per_s": {"m/s": 1.0, "km/h": 1 / 3.6}}  # fmt: skip
_NUMBER = re.compile(r"([-+]?\d*[.,]?\d+(?:e[-+]?\d+)?)\s*([^\s\d]*\d?)", re.I)
BY_TAPE = " Or by tape: how much further apart the rims are behind the axle than in front, at hub height, with its unit, such as 3 mm."
Say = Callable[[str], None]


@dataclass
class Interview:
    """One round of questions.

    file : that is written; text : of the scenario so far; answered : how many were; say : shows a line; hear : asks for one, raising
    EOFError or KeyboardInterrupt where there are no more
    """

    file: Path
    text: str
    say: Say
    hear: Callable[[str], str]
    answered: int = 0

    def ask(self, prompt: str, *more: str) -> str:
        """What was typed, without blanks about it; `?` shows help and asks again.  more : the help, line by line."""
        while (answer := self.hear(prompt).strip()) == HELP:
            for line in more:
                self.say(f"  {line}")
        return answer

    def write(self) -> None:
        """Write the file whole, so that nothing is lost whatever comes next."""
        write_file(self.file, ".toml", lambda made: made.write_text(self.text, encoding="utf-8", newline="\n"))

    def numbers(self) -> None:
        """Ask for every number that nobody has measured."""
        asked, letters = open_lines(self.text), self._letters()
        values = {one.line: one.value for one in asked}
        place = 0
        while place < len(asked):
            one = asked[place]._replace(value=values[asked[place].line])
            letter = f" ({letters[one.key.name]})" if one.key.name in letters else ""
            self.say(f"\n{place + 1} of {len(asked)}{letter}: {_question(one.key)}")
            given = self._one(one)
            if given is None:
                place = max(place - 1, 0)
                continue
            value, measured = given
            if measured or value != one.value:
                self.answered += 1
            values[one.line] = value
            self.text = filled(self.text, one, value, open_=not measured)
            self.write()
            place += 1

    def _letters(self) -> dict[str, str]:
        """The letters of the measuring sheet, by key; none where the file does not say what front end the car has."""
        kind = built_kind(self.text)
        return {} if kind is None else letters_of(kind)

    def _one(self, one: Open) -> tuple[str, bool] | None:
        """An answer as it is written and whether it was measured; None to go back."""
        twice = ""  # a doubted answer that is given again is kept
        while True:
            answer = self.ask(f"{one.key.name} [{_enter(one)}]: ", *_help(one))
            if answer.casefold() in BACK:
                return None
            if not answer:
                return one.value, one.key.default is not None or not one.value
            in_degrees = self._by_tape(one.key, answer)
            value, problem = read_number(in_degrees, one.key)
            problem = problem or self._fault(one, value)
            if problem:
                self.say(f"  {problem}")
                continue
            questions = self._doubts(one, value)
            if questions and answer != twice:
                for question in questions:
                    self.say(f"  Is this right? {question}")
                self.say("  Type it again to keep it, or another number.")
                twice = answer
                continue
            self._convert(in_degrees, value, one.key)
            return value, True

    def _by_tape(self, key: Key, answer: str) -> str:
        """A toe that was typed as a tape between the rims shows it, in degrees, which is said; any other answer as it is."""
        match = _NUMBER.fullmatch(_plain_signs(answer))
        if key.name != TOE_IN or match is None or match[2].casefold() not in _UNITS:
            return answer
        try:
            rim = usual_rim(check_scenario(parse_toml(self.text, "", ""), "").car.wheel_radius)
            wider = float(match[1].replace(",", ".")) * _UNITS[match[2].casefold()]
            toe = f"{degrees(toe_by_tape(wider * MILLIMETRE, rim)):.2f}"
        except (InputError, ValueError):  # other numbers do not go together yet, or no wheel stands so
            return answer
        self.say(f"  {wider:g} mm, taken over {rim / MILLIMETRE:.0f} mm of each rim, four fifths of the wheel: {toe} degrees a wheel.")
        return toe

    def _fault(self, one: Open, value: str) -> str:
        """What the whole scenario has against an answer, where it names this number."""
        try:
            check_scenario(parse_toml(filled(self.text, one, value), str(self.file), ""), str(self.file))
        except InputError as error:
            return f"{error.problem}; {error.remedy}" if error.place.endswith(one.key.name) else ""
        return ""

    def _doubts(self, one: Open, value: str) -> list[str]:
        """What is doubtful about an answer, alone or beside the others."""
        said = doubt(one.key.name, float(value), one.key.common) if one.key.common is not None else ""
        if said:
            return [said if said.endswith("?") else f"{said}."]
        try:
            before, after = (check_scenario(parse_toml(text, "", ""), "") for text in (self.text, filled(self.text, one, value)))
            (told, stops), (now, late) = map(_asked_about, (before, after))
            # Of how the parts go together, what is said about this number: others are still to come.
            known = file_doubts(after)
            new = [doubted for doubted in now if doubted not in told and (doubted in known or one.key.name in doubted)]
            return new + [line for line in late if line not in stops]
        except InputError:  # another number, which is still to come, does not fit
            return []

    def _convert(self, answer: str, value: str, key: Key) -> None:
        """Say a number back that was typed with another unit than its key's."""
        match = _NUMBER.fullmatch(_plain_signs(answer))
        if match is not None and match[2] and float(match[1].replace(",", ".")) != float(value):
            self.say(f"  That is {value} {_unit(key)}.")

    def misfit(self) -> str:
        """A line about numbers that are each fine and do not go together; empty where they do."""
        try:
            check_scenario(parse_toml(self.text, str(self.file), ""), str(self.file))
        except InputError as error:
            return f"Not yet right: {error.place}: {error.problem}; {error.remedy}.\n"
        return ""

    def choose(self, what: str, names: tuple[str, ...], usual: str) -> str:
        """One of several names, by name, number or beginning.  usual : that Enter takes."""
        self.say(f"\n{what}")
        for number, name in enumerate(names, 1):
            self.say(f"  {number} {name}")
        while True:
            answer = " ".join(self.ask(f"number or name [{usual}]: ", CHOOSE_HELP).casefold().split())
            answer = also_called(answer)
            if not answer:
                return usual
            fits = [name for number, name in enumerate(names, 1) if answer in (str(number), name)]
            fits = fits or [name for name in names if name.startswith(answer)]
            if len(fits) == 1:
                return fits[0]
            near = get_close_matches(answer, names, n=1)
            self.say(f"  That is none of them; {f'did you mean {near[0]}?' if near else f'type a number from 1 to {len(names)}'}")

    def drive(self) -> None:
        """Ask what drives the car."""
        self.text = with_drive(self.text, self.choose("What drives the car, at the rear?", DRIVES, DRIVES[0]))
        self.write()


def _asked_about(scenario: Scenario) -> tuple[tuple[str, ...], list[str]]:
    """The doubts about a scenario, and the stops that stand behind the danger.  Raises InputError where a set-up cannot be built."""
    entries = entries_of(scenario, "")
    return doubts_of(scenario, entries), [stop_line(one) for one in (dangers_of(entry.steering) for entry in entries) if stop_is_late(one)]


CHOOSE_HELP = "Type the number before a line or the beginning of its name; Enter takes what stands in brackets. `q` or Ctrl-C stops."


def built_kind(text: str) -> Kind | None:
    """The kind of the first front end in a scenario's text that somebody can build; None where there is none.  text : of a scenario."""
    try:
        setups = check_scenario(parse_toml(text, "", ""), "").setup
    except InputError:
        return None
    return next((setup.kind for setup in setups if setup.kind.name in offered_kinds()), None)


def sheet_words(kind: Kind) -> str:
    """Where the letters of the questions are drawn.  kind : of the front end."""
    return (
        f'Letters in brackets are those of the measuring sheets: print them first with `scrubwise measure --like "{kind.name}" --out '
        "measure.pdf`."
    )


def choose_kind(interview: Interview) -> str:
    """Ask what kind of front end the car has.  interview : not begun."""
    names = tuple(offered_kinds())
    return interview.choose("How are the front wheels steered?", names, names[0])


def read_number(answer: str, key: Key) -> tuple[str, str]:
    """A number as people type it, with a comma or a unit, as a scenario writes it; and what is wrong, empty where nothing is."""
    match = _NUMBER.fullmatch(_plain_signs(answer))
    if match is None:
        return "", "That is not a number; type digits, such as 110 or 13.9"
    unit = match[2].casefold()
    known = next((units for ending, units in _KNOWN_UNITS.items() if key.name.endswith(ending)), {})
    if unit and unit not in known:
        return "", f"The unit {unit!r} is not known here; type the number alone, in {_unit(key)}"
    value = float(match[1].replace(",", ".")) * known.get(unit, 1.0)
    if not key.low <= value <= key.high:
        side, bound = ("below", key.low) if value < key.low else ("above", key.high)
        meant = f"; did you mean {MILLIMETRES_IN['cm'] * value:g}?" if _as_centimetres(value, key) and not unit else f"; {key.remedy}"
        return "", f"{value:g} is {side} {bound:g}{meant}"
    return f"{value:.10g}", ""


def _plain_signs(answer: str) -> str:
    """An answer with plain minus signs."""
    return answer.replace("−", "-").replace("–", "-")


def _as_centimetres(value: float, key: Key) -> bool:
    """Whether a length that is out of range would be usual if it were written in centimetres."""
    low, high = key.common if key.common is not None else (key.low, key.high)
    return key.name.endswith("_mm") and low <= MILLIMETRES_IN["cm"] * value <= high


def _unit(key: Key) -> str:
    ending = next((ending for ending in _KNOWN_UNITS if key.name.endswith(ending)), "")
    return {"_mm": "millimetres", "_kg": "kilograms", "_deg": "degrees", "_m2": "square metres", "_m_per_s": "metres per second"}.get(
        ending, "the unit of its name"
    )


def _question(key: Key) -> str:
    usual = f" Usual: {key.common[0]:g} to {key.common[1]:g}." if key.common is not None else ""
    return f"{key.measure[0].upper()}{key.measure[1:]}, in {_unit(key)}.{usual}{BY_TAPE if key.name == TOE_IN else ''}"


def _help(one: Open) -> list[str]:
    """What `?` shows."""
    key = one.key
    return [
        f"{key.name}: {key.measure}. In {_unit(key)}; from {key.low:g} to {key.high:g} is taken.",
        f"Enter: {_enter(one).removeprefix('Enter: ')}. `back` goes back one question. `q` or Ctrl-C stops; the answers are kept.",
    ]


def _enter(one: Open) -> str:
    """What Enter does, in brackets behind the key."""
    if not one.value:
        return f"Enter: {one.key.left_out}"
    return f"Enter: {one.value}" if one.key.default is not None else f"Enter: not yet, {one.value} stays"
