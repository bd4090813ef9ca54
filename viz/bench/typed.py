"""`bench --type`: the readings of a plan from the keyboard, a line each, and every line kept before the next is asked for."""

import os
import re
from collections.abc import Callable, Iterator, Sequence
from functools import partial
from pathlib import Path

from sim.bench.as_built import make_plan
from sim.bench.kinds import KINDS, RIM, place_of
from sim.bench.readings import check_against_plan, decimal, readings_in
from sim.bench.result import ItemFigures, PlanResult, plan_lines
from sim.errors import InputError
from sim.files.text import number_from
from sim.scenario.choice import chosen_setup
from sim.scenario.scenario import Scenario
from sim.study.doubts import built_doubts
from viz.bench.numbers import plan_result
from viz.shared.dangers import danger_lines
from viz.shared.doubts import doubt_lines
from viz.shared.files import check_suffix
from viz.shared.keyboard import HELP, LEAVE

LEFT_OUT, STOP, PROMPT = "-", "end", "> "
ENDS, ASKED = (STOP, *LEAVE), (HELP, "help")  # what people type of themselves to end, and to ask what to type
HOW = (
    f"Type the numbers of a line with blanks between them, then Enter. {LEFT_OUT} leaves out one number, an empty line the whole reading, "
    f"{STOP} all that follow."
)  # fmt: skip
Ask = Callable[[str], str | None]  # a prompt to what was typed; None where nothing more comes
Tell = Callable[[str], None]
Check = Callable[[dict[str, str]], None]  # cells by column; raises InputError where they can't be meant


def type_readings(
    scenario: Scenario, source: str, file: Path, plan: str, setup_name: str | None, ask: Ask, tell: Tell
) -> None:  # fmt: skip
    """Ask for the readings of a plan and keep each in a file as soon as it was typed.

    scenario, source : the scenario and its name in messages; file : to write, which must not be there yet
    plan : "quick" or "full", or its beginning; setup_name : None where the scenario has only one set-up with rods
    Raises InputError where the file is there or can't be written, and where nothing was typed, which leaves no file.
    """
    chosen = plan_result(scenario, source, plan, setup_name)
    index = chosen_setup([one.name for one in scenario.setup], chosen.setup, source)
    built = make_plan(scenario.setup[index], scenario.car, source, f"setup[{index}]")
    columns = (RIM.name, *chosen.columns)

    def check(cells: dict[str, str]) -> None:
        """Refuse at once what `bench` would refuse later."""
        text = "\n".join(",".join(line) for line in ([*cells], [*cells.values()]))
        check_against_plan(readings_in(text, str(file), scenario.car.wheel_radius), built)

    check_suffix(file, ".csv")
    kept = 0
    try:
        # Never over readings that somebody took on their knees.
        with open(file, "x", encoding="utf-8", newline="\n") as stream:

            def keep(cells: list[str]) -> None:
                stream.write(",".join(cells) + "\n")
                stream.flush()
                os.fsync(stream.fileno())

            keep(list(columns))
            tell(f"{chosen.title}: {chosen.setup}. {HOW} Every line is kept in {file} at once.")
            for line in (*doubt_lines(built_doubts(scenario, chosen.setup, source)), *danger_lines(chosen.dangers)):
                tell(line)
            for cells in _lines(chosen, check, ask, tell):
                keep([cells.get(column, "") for column in columns])
                kept += 1
    except FileExistsError:
        remedy = "choose another name; what it holds can be named beside --type as READINGS.csv"
        raise InputError(str(file), "", "there is such a file already", remedy) from None
    except OSError as fault:
        raise InputError(str(file), "", f"the file can't be written ({fault.strerror})", "check the folder and its rights") from None
    if not kept:
        file.unlink()
        raise InputError("--type", "", "nothing was typed", "type at least one reading")


def _lines(plan: PlanResult, check: Check, ask: Ask, tell: Tell) -> Iterator[dict[str, str]]:
    """The cells of each line that was typed, by column."""
    lines = plan_lines(plan)
    rim: dict[str, str] = {}
    if any(_over_rim(item) for item in lines):
        tell(f"0 of {len(lines)}: between the two places on each rim (an empty line takes {plan.rim_mm:.0f} mm). Type: {RIM.name}")
        answer = _answer((RIM.name,), _check_rim, ask, tell)
        if answer is None:
            return
        rim = answer
    for number, item in enumerate(lines, start=1):
        tell(f"{number} of {len(lines)}: {item.name}{_which(lines, number)}: {item.doing}. Type: {' '.join(item.columns)}")
        before = rim if _over_rim(item) else {}
        cells = _answer(item.columns, partial(_check_with, check, before, item), ask, tell)
        if cells is None:
            return
        if cells:
            yield before | cells


def _which(lines: Sequence[ItemFigures], number: int) -> str:
    """Which repeat of a reading a line is, as the end of its name; empty where it is read once.  lines; number : of the line, from 1."""
    item = lines[number - 1]
    times, turn = lines.count(item), lines[:number].count(item)
    ending = "th" if turn % 100 in (11, 12, 13) else {1: "st", 2: "nd", 3: "rd"}.get(turn % 10, "th")
    return f", {turn}{ending} of {times}" if times > 1 else ""


def _check_with(check: Check, before: dict[str, str], item: ItemFigures, cells: dict[str, str]) -> None:
    """Check a line as it will stand in the file, with an empty cell for what was left out; first that it is to the side asked for."""
    if item.hand_deg:
        side, sign = ("left", "above") if item.hand_deg > 0 else ("right", "below")
        for column in item.columns:
            if column in cells and KINDS[place_of(column)].turns and float(cells[column]) * item.hand_deg <= 0:
                where = f"where the hand wheel stands at {abs(item.hand_deg):.0f} deg {side}"
                problem = f"{column} = {cells[column]} is not to the {side}, {where}"
                raise InputError("", "", problem, f"to the {side} every angle is {sign} 0")
    check(before | dict.fromkeys(item.columns, "") | cells)


def _over_rim(item: ItemFigures) -> bool:
    return any(KINDS[place_of(column)].over_rim for column in item.columns)


def _check_rim(cells: dict[str, str]) -> None:
    value = float(cells[RIM.name])
    if not RIM.low <= value <= RIM.high:
        raise InputError("", "", f"{value:g} is not between {RIM.low:g} and {RIM.high:g}", "give millimetres")


def _answer(columns: tuple[str, ...], check: Check, ask: Ask, tell: Tell) -> dict[str, str] | None:
    """What was typed under some columns, asked for until it can be meant; empty where it was left out, None where no more comes."""
    while True:
        line = ask(PROMPT)
        if line is None or line.strip().casefold() in ENDS:
            return None
        if line.strip().casefold() in ASKED:
            tell(HOW)
            continue
        typed = [cell.strip(",").replace(",", ".") for cell in re.split(r"[;\s]+", decimal(line.strip(" \t\r\n;,")))]
        if not any(cell not in ("", LEFT_OUT) for cell in typed):
            return {}
        wrong = next((cell for cell in typed if cell != LEFT_OUT and number_from(cell) is None), None)
        if wrong is not None:
            tell(f"{wrong!r} is not a number. Once more:")
        elif len(typed) != len(columns):
            wanted = "1 number is" if len(columns) == 1 else f"{len(columns)} numbers are"
            tell(f"{wanted} wanted here, not {len(typed)}; {LEFT_OUT} stands for one that was not read. Once more:")
        else:
            cells = {column: cell for column, cell in zip(columns, typed, strict=True) if cell != LEFT_OUT}
            try:
                check(cells)
            except InputError as fault:
                tell(f"{fault.problem[0].upper()}{fault.problem[1:]}; {fault.remedy}. Once more:")
            else:
                return cells
