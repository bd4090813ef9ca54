"""What was read on the bench: the table of readings, and refusing what cannot be meant."""

import re
from collections.abc import Sequence
from dataclasses import dataclass
from difflib import get_close_matches
from math import hypot, isfinite, nan, radians
from pathlib import Path

import numpy as np

from sim.bench.as_built import Built
from sim.bench.kinds import (
    COLUMNS,
    DIAL,
    ERROR_COLUMNS,
    KINDS,
    MOST_ACROSS,
    RIM,
    TOGETHER,
    WHEEL_LEFT,
    WHEEL_RIGHT,
    Column,
    lath_error,
    usual_rim,
)  # fmt: skip
from sim.errors import InputError
from sim.files.columns import blank_note, cell_number, cells_of, delimiter_of, is_comment, refuse_extra_cells, rows_of, shown_cell, text_of
from sim.files.text import TooLargeError, plain_bytes
from sim.keys import MILLIMETRE
from sim.steering.arrangement import Steering
from sim.steering.table import hand_where

LARGEST_FILE = 1_000_000  # [bytes]; thousands of rows, more than anybody reads off a floor
# No slip in rods and arms that leaves a car drivable takes a wheel further beyond its planned lock.  Judgement. [rad]
BEYOND_LOCK = radians(8)
OPPOSED = radians(20)  # wheels that point apart or together by more are a wrong sign, not toe [rad]
FEWEST_TO_JUDGE = 4  # pairs from which a wrong sign can be told from a slip in one of them
# Swapped columns turn the planned difference of the wheels round.  The readings are taken for swapped where they lie this
# much nearer to the turned difference; wheels that turn alike lie equally near to both. [-]
NEARER = 0.6
SEEN = 0.4  # share of the planned difference from which a reading counts as agreeing with it, or with its opposite [-]
CLEAR = radians(2)  # a planned difference between the wheels beyond which its sign can be seen through usual toe [rad]
MOST_ROD_TURNS = 20.0  # a rod that is measured further off its drawn length belongs to another car, or the tape was misread
# How like a name has to be to one that is read to be taken for it; "remark" and its like stay what they are.  Judgement. [-]
MISSPELT = 0.8
# Ends of names in other units of the same size of thing, as people write them, and what to write instead.
OTHER_UNITS = {"mm": ("cm", "m", "in", "inch", "inches"), "deg": ("rad", "grad", "mrad")}
UNIT_WORDS = {"mm": "millimetres", "deg": "degrees"}
# As people count turns: 6 1/4, 1/2.
_FRACTION = re.compile(r"(?<![\d.,/])(?:(?P<whole>\d+)\s+)?(?P<part>\d+)/(?P<of>[248])(?![\d/])")
TAPES = ("toe_rear_mm", "toe_front_mm")
TAPE_OFF = 0.4  # share of the track by which a distance between rims can lie from it: tyres, rims and hubs take less.  Judgement. [-]
STRINGS = tuple(column.name for kind in KINDS if kind.over_rim for column in kind.columns if column.name not in TAPES)
FEWEST_STRINGS = 3  # lines from which the one in another unit can be told
TENTH = 0.2  # share of the usual distance below which all of a line's are taken for a tenth of it.  Judgement. [-]
_NAME_THEM = "name its columns in the first line, such as left_deg,right_deg or string_left_front_mm (`scrubwise manual floor` lists them)"
_UNIT = {
    "deg": "give degrees, positive to the left",
    "mm": "give millimetres",
    "turns": "count the turns out from fully home, both ends of the rod together",
}


@dataclass(frozen=True, eq=False)
class Readings:
    """What was read on the bench, as it stands in the tables; each array (n, kinds), in the order of `sim.bench.kinds.KINDS`.

    sources : the files, for messages
    value : nan where none was read [rad, m, turns or -]
    error : one standard deviation [rad, m, turns or -]
    stated : whether the table states that error
    line, file : (n,) line of the file, and which of them
    rim_taken : distance on the rim that was taken where a table states none, nan where none was needed [m]
    furthest_string : the largest distance between a string and a rim, nan where none stands in a table [m]
    notes : plain sentences
    slips : sentences about what can hardly be meant as it stands, by which no rod is to be turned
    """

    sources: tuple[str, ...]
    value: np.ndarray
    error: np.ndarray
    stated: np.ndarray
    line: np.ndarray
    file: np.ndarray
    rim_taken: float = nan
    furthest_string: float = nan
    notes: tuple[str, ...] = ()
    slips: tuple[str, ...] = ()

    def __len__(self) -> int:
        return len(self.value)

    @property
    def source(self) -> str:
        """The files, for messages."""
        return ", ".join(self.sources)

    @property
    def read(self) -> np.ndarray:
        """(n, kinds) where there is a reading [-]."""
        return np.isfinite(self.value)

    def place(self, index: int) -> str:
        """Where a row stands in its file.

        index : of the row
        Returns for instance "line 12".
        """
        return f"line {self.line[index]}"

    def source_of(self, index: int) -> str:
        """The file of a row.  index : of the row [-]."""
        return self.sources[self.file[index]]


def usual_errors(rim: float) -> np.ndarray:
    """The error of each kind of reading where no table states one.

    rim : distance between the places on the rim [m]
    Returns (kinds,) [rad, m, turns or -].
    """
    return np.array([kind.error(kind.usual_error, rim) for kind in KINDS])


def made_readings(value: np.ndarray, error: np.ndarray, source: str = "readings") -> Readings:
    """Readings that stand in no file.

    value, error : (n, kinds), nan where none was read [rad, m, turns or -]
    source : their name in messages
    Returns Readings; its rows count from line 2.
    """
    stated, lines = np.isfinite(value), np.arange(len(value)) + 2
    return Readings((source,), value, np.broadcast_to(error, value.shape), stated, lines, np.zeros(len(value), dtype=int))


def pairs_of(left: np.ndarray, right: np.ndarray, hand: np.ndarray | None, error: np.ndarray | float, source: str) -> Readings:
    """Pairs of wheel angles that stand in no file.

    left, right : (n,) wheel angles, left positive [rad]
    hand : (n,) hand angles, nan where none was read; None for none [rad]
    error : of each angle, one standard deviation [rad]
    source : their name in messages
    Returns Readings.
    """
    value = np.full((len(left), len(KINDS)), nan)
    value[:, WHEEL_LEFT], value[:, WHEEL_RIGHT] = left, right
    if hand is not None:
        value[:, DIAL] = hand
    return made_readings(value, np.repeat(np.broadcast_to(error, len(left))[:, None], len(KINDS), axis=1), source)


def read_readings(path: Path, source: str, wheel_radius: float = nan, track: float = nan) -> Readings:
    """Read a table of readings.

    path : of the file
    source : its name in messages
    wheel_radius : of the car, from which the places on the rim are taken where the table does not say how far apart they are [m]
    track : of the front wheels, with which a tape between the rims is compared, nan where it is not known [m]
    Returns Readings.  Raises InputError with the file, the line, what is wrong and what to do.
    """
    return readings_in(_text(path, source), source, wheel_radius, track)


def readings_in(text: str, source: str, wheel_radius: float = nan, track: float = nan) -> Readings:
    """The readings that the text of a table holds.

    text : of the file, with plain line ends; source, wheel_radius, track : as for `read_readings` [m]
    Returns Readings.  Raises InputError with the file, the line, what is wrong and what to do.

    Columns by name, those of `sim.bench.kinds.COLUMNS`, whose cells may be empty.  Cells stand between commas, semicolons or tabs; with
    the latter two a decimal comma may stand.  Lines that begin with # are comments; blank rows are passed over and said.
    """
    # Not splitlines(), which also breaks at form feeds and the like, where an editor counts no new line.
    lines = text.split("\n")
    head = next((number for number, line in enumerate(lines, start=1)
                 if line.strip(" \t;,") and not is_comment(line, f"line {number}", source)), None)  # fmt: skip
    if head is None:
        raise InputError(source, "", "the file holds no readings", _NAME_THEM)
    mark = delimiter_of(lines[head - 1])
    names = [name.lower() for name in cells_of(lines[head - 1], mark)]
    columns = _check_names(names, source, head)
    ignored = [name for name in names if name and name not in columns]
    misspelt = _misspelt(ignored)
    blanks: list[int] = []
    values, errors, stated, at = [], [], [], []
    written: list[tuple[str, dict[str, float]]] = []
    rim_taken = nan
    for number, cells in rows_of(lines, head - 1, mark, source, blanks):
        place = f"line {number}"
        refuse_extra_cells(cells, names, mark, place, source)
        row = {name: _value(cell, columns[name], mark, source, place)
               for name, cell in zip(names, cells, strict=False) if name in columns and cell}  # fmt: skip
        slip = next((name for name, cell in zip(names, cells, strict=False) if name in misspelt and cell), None)
        if slip is not None and not set(row) - {RIM.name, *(column.name for column in ERROR_COLUMNS.values())}:
            problem = f"column {shown_cell(slip)} is not read, and nothing else stands in this line"
            raise InputError(source, place, problem, f"if {misspelt[slip]} is meant, write it so")
        written.append((place, row))
        rim = row.get(RIM.name, nan) * RIM.size
        if not isfinite(rim):
            rim = usual_rim(wheel_radius)
            if any(kind.over_rim and any(column.name in row for column in kind.columns) for kind in KINDS):
                rim_taken = rim
        for value, error, said in _split(row, rim, lath_error(rim, wheel_radius), source, place):
            values.append(value)
            errors.append(error)
            stated.append(said)
            at.append(number)
    if not values:
        raise InputError(source, f"line {head}", "no readings follow the column names", "write what was read below them, a setting a line")
    return Readings(
        (source,), np.array(values), np.array(errors), np.array(stated), np.array(at), np.zeros(len(at), dtype=int), rim_taken,
        max((row[name] * MILLIMETRE for _, row in written for name in STRINGS if name in row), default=nan),
        (*(f"Column {shown_cell(name)} is not used." for name in ignored if name not in misspelt), *blank_note(blanks)),
        (*(f"{source}: column {shown_cell(name)} is not read: is {one} meant? Write it so." for name, one in misspelt.items()),
         *_tape_slips(written, source, track), *_string_slips(written, source)),
    )  # fmt: skip


def _misspelt(ignored: Sequence[str]) -> dict[str, str]:
    """Columns that are not used but look like one that would be, and which."""
    # Shortest first: "rod" lacks but the unit of rod_mm, and more of rod_left_mm.
    names = sorted((column.name for column in COLUMNS), key=len)
    meant = {name: next((one for one in names if one.startswith(f"{name}_")), None) or next(
        iter(get_close_matches(name, names, n=1, cutoff=MISSPELT)), None) for name in ignored}  # fmt: skip
    return {name: one for name, one in meant.items() if one}


def _tape_slips(written: Sequence[tuple[str, dict[str, float]]], source: str, track: float) -> list[str]:
    """Distances between the rims that are not those of this car, which are hardly in millimetres."""
    told = []
    for place, row in written:
        far = [(name, row[name]) for name in TAPES if name in row and abs(row[name] * RIM.size / track - 1) > TAPE_OFF]
        if far:
            name, value = far[0]
            unit = "centimetres" if abs(10 * value * RIM.size / track - 1) <= TAPE_OFF else "another unit"
            told.append(f"{source} {place}: {name} = {value:g} is far from the track, {track / RIM.size:.0f} mm: is it in {unit}? "
                        "Write millimetres.")  # fmt: skip
    return told


def _string_slips(written: Sequence[tuple[str, dict[str, float]]], source: str) -> list[str]:
    """Lines whose distances to the strings are all about a tenth of the other lines', as centimetres are among millimetres."""
    with_strings = [(place, {name: row[name] for name in STRINGS if name in row}) for place, row in written]
    with_strings = [(place, row) for place, row in with_strings if row]
    if len(with_strings) < FEWEST_STRINGS:
        return []
    usual = {name: float(np.median([row[name] for _, row in with_strings if name in row])) for _, row in with_strings for name in row}
    return [
        f"{source} {place}: distances to the strings of {', '.join(f'{value:g}' for value in row.values())}, in the other lines about "
        f"{', '.join(f'{usual[name]:g}' for name in row)}: are these centimetres? Write millimetres."
        for place, row in with_strings if all(0 < value < TENTH * usual[name] for name, value in row.items())
    ]  # fmt: skip


def _split(
    row: dict[str, float], rim: float, lath: float, source: str, place: str
) -> list[tuple[np.ndarray, np.ndarray, np.ndarray]]:  # fmt: skip
    """Values, errors and whether they are stated of a line: what belongs to one setting of the hand wheel, and the rest one by one.

    lath : that a lath along the rim adds to its direction's usual error [rad]
    """
    value, error, stated = (np.full(len(KINDS), fill) for fill in (nan, nan, 0.0))
    for index, kind in enumerate(KINDS):
        missing = [one.name for one in kind.columns if one.name not in row]
        if missing and len(missing) < len(kind.columns):
            raise InputError(source, place, f"there is no {missing[0]}", "complete the pair or delete the line")
        value[index] = kind.value(row, rim)
        own = row.get(ERROR_COLUMNS[kind.unit].name)
        stated[index] = own is not None
        error[index] = kind.error(kind.usual_error if own is None else own * kind.columns[0].size, rim)
        if kind.over_rim and own is None:
            error[index] = hypot(error[index], lath)
        if kind.over_rim and abs(value[index]) > MOST_ACROSS:
            names = " and ".join(one.name for one in kind.columns)
            problem = f"{names} differ by {abs(value[index] * rim) / RIM.size:.0f} mm over a rim of {rim / RIM.size:.0f} mm"
            raise InputError(source, place, problem, "check them, and set the wheels straight ahead")
    for one, other in TOGETHER:
        for here, there in ((one, other), (other, one)):
            if isfinite(value[here]) and not isfinite(value[there]):
                raise InputError(source, place, f"there is no {KINDS[there].columns[0].name}", "complete the pair or delete the line")
    turns = np.array([kind.turns for kind in KINDS])
    groups = [turns, *(np.arange(len(KINDS)) == index for index in np.flatnonzero(~turns))]
    parts = [(np.where(group, value, nan), error, stated > 0) for group in groups]
    parts = [part for part in parts if np.isfinite(np.delete(part[0], DIAL)).any()]
    if not parts:
        raise InputError(source, place, "there is no reading in this line", "complete it or delete it")
    return parts


def joined(parts: Sequence[Readings]) -> Readings:
    """Readings of several files as one.  parts : Readings of each [SI].  Returns Readings."""
    if len(parts) == 1:
        return parts[0]
    taken = [one.rim_taken for one in parts if isfinite(one.rim_taken)]
    strings = [one.furthest_string for one in parts if isfinite(one.furthest_string)]

    def together(name: str) -> np.ndarray:
        return np.concatenate([getattr(one, name) for one in parts])

    return Readings(
        sources=tuple(one.sources[0] for one in parts), value=together("value"), error=together("error"), stated=together("stated"),
        line=together("line"), file=np.concatenate([np.full(len(one), index) for index, one in enumerate(parts)]),
        rim_taken=taken[0] if taken else nan, furthest_string=max(strings, default=nan),
        notes=tuple(note for one in parts for note in one.notes), slips=tuple(slip for one in parts for slip in one.slips),
    )  # fmt: skip


def _text(path: Path, source: str) -> str:
    try:
        if path.is_dir():
            raise InputError(source, "", "is a folder", "name the table of readings inside it")
        text = text_of(plain_bytes(path, LARGEST_FILE), source)
    except InputError:
        raise
    except TooLargeError:
        raise InputError(source, "", "the file is far too large for bench readings", "name a CSV with one setting a line") from None
    except FileNotFoundError:
        raise InputError(source, "", "there is no such file", "check the name and the folder") from None
    except (OSError, ValueError) as fault:
        reason = getattr(fault, "strerror", None) or "the name is not valid"
        raise InputError(source, "", f"the file can't be read ({reason})", "check its name and its rights") from None
    if not text.strip():
        raise InputError(source, "", "the file is empty", _NAME_THEM)
    return text


def _check_names(names: list[str], source: str, head: int) -> dict[str, Column]:
    """The columns that the table has, by name; raises InputError where it has none, one in another unit, or half of a pair."""
    known = {column.name: column for column in COLUMNS}
    found = {name: known[name] for name in names if name in known}
    for ours in COLUMNS:
        stem = ours.name.removesuffix(f"_{ours.unit}")
        other = next((name for end in OTHER_UNITS.get(ours.unit, ()) if (name := f"{stem}_{end}") in names), None)
        if other is not None and ours.name not in found:
            problem = f"column {shown_cell(other)} is not read (is {ours.name} meant?)"
            raise InputError(source, f"line {head}", problem, f"write {UNIT_WORDS[ours.unit]} under {ours.name}")
    for column in found:
        if names.count(column) > 1:
            raise InputError(source, f"line {head}", f"column {column} stands twice", "keep one of them")
    pairs = [[KINDS[place].columns[0].name for place in pair] for pair in TOGETHER]
    for needed in [[one.name for one in kind.columns] for kind in KINDS] + pairs:
        missing = [name for name in needed if name not in found]
        if missing and len(missing) < len(needed):
            raise InputError(source, f"line {head}", f"there is no column {missing[0]}{_meant(missing[0], names, found)}", _NAME_THEM)
    if not any(name in found for kind in KINDS for name in (one.name for one in kind.columns)):
        near = [(name, one) for name in names if name not in known for one in get_close_matches(name, list(known), n=1)]
        meant = f" (is {shown_cell(near[0][0])} meant for {near[0][1]}?)" if near else ""
        raise InputError(source, f"line {head}", f"no column holds a kind of reading{meant}", _NAME_THEM)
    return found


def _meant(needed: str, names: list[str], found: dict[str, Column]) -> str:
    near = get_close_matches(needed, [name for name in names if name and name not in found], n=1)
    return f" (is {shown_cell(near[0])} meant?)" if near else ""


def decimal(text: str) -> str:
    """A text with whole numbers and simple fractions, such as 6 1/4, as decimals.  text : of a cell or a line.  Returns it."""
    return _FRACTION.sub(lambda found: f"{int(found['whole'] or 0) + int(found['part']) / int(found['of']):g}", text)


def _value(cell: str, column: Column, mark: str, source: str, place: str) -> float:
    """One cell in the unit that its column names."""
    value = cell_number(decimal(cell) if column.unit == "turns" else cell, column.name, mark, place, source)
    if column in ERROR_COLUMNS.values():
        if not column.low <= value <= column.high:
            words = {"deg": "degrees", "mm": "mm", "turns": "turns"}[column.unit]
            problem = f"a reading error of {value:g} {words} is not between {column.low:g} and {column.high:g}"
            usual = {"deg": "half a degree is usual for a printed protractor", "mm": "half a millimetre to a millimetre is usual",
                     "turns": "a quarter turn is usual"}[column.unit]  # fmt: skip
            raise InputError(source, place, problem, usual)
        return value
    if not column.low <= value <= column.high:
        if column.low == -column.high:
            words = {"deg": "degrees", "mm": "mm", "turns": "turns"}[column.unit]
            raise InputError(source, place, f"{value:g} in column {column.name} is more than {column.high:g} {words}", _UNIT[column.unit])
        problem = f"{value:g} in column {column.name} is not between {column.low:g} and {column.high:g}"
        raise InputError(source, place, problem, _UNIT[column.unit])
    return value


def check_against_plan(readings: Readings, plan: Built) -> None:
    """Refuse readings that no slip in rods and arms explains: opposed wheels, angles beyond the lock, a wrong sign, another car's rods.

    readings : Readings
    plan : Built
    Raises InputError with the line.
    """
    paired = np.flatnonzero(readings.read[:, WHEEL_LEFT])
    if len(paired):
        _check_pairs(readings, paired, plan.steering)
    for place, kind in enumerate(KINDS):
        for index in np.flatnonzero(readings.read[:, place]).tolist():
            if place != DIAL and not kind.fits(plan):
                name, other = kind.columns[0].name, ", ".join(_columns_of(plan, kind.unit))
                problem = f"column {name} belongs to another kind of steering than {plan.setup.kind.a_name}"
                raise InputError(readings.source_of(index), readings.place(index), problem, f"columns in that unit are {other}")
            side = 1 if "right" in kind.name else 0
            if kind.unit == "turns" and plan.parts_known:
                turns, read = (plan.rod_lengths[side] - plan.home_length) / plan.pitch, readings.value[index, place]
                if abs(read - turns) > MOST_ROD_TURNS:
                    problem = f"{kind.columns[0].name} counts {read:g} turns, where the plan has {turns:.1f} out from fully home"
                    remedy = "count both ends of the rod together, or check rod_tube_length_mm and rod_end_eye_length_mm"
                    raise InputError(readings.source_of(index), readings.place(index), problem, remedy)
            if kind.unit == "mm" and not kind.turns:
                planned, read = plan.rod_lengths[side], readings.value[index, place]
                if abs(read - planned) > MOST_ROD_TURNS * plan.pitch:
                    problem = f"the {kind.name.partition(',')[0]} measures {1e3 * read:g} mm, where the plan has {1e3 * planned:.1f} mm"
                    raise InputError(
                        readings.source_of(index), readings.place(index), problem,
                        "measure from the middle of one eye to that of the other, or check the set-up's name and whether the scenario's "
                        "lengths are this car's",
                    )  # fmt: skip


def _columns_of(plan: Built, unit: str) -> list[str]:
    return [column.name for kind in KINDS if kind.fits(plan) and kind.unit == unit for column in kind.columns]


def _check_pairs(readings: Readings, paired: np.ndarray, steering: Steering) -> None:
    left, right = readings.value[paired, WHEEL_LEFT], readings.value[paired, WHEEL_RIGHT]
    _check_signs(readings, paired, steering)
    ends = steering.front_wheels(np.array([steering.lock_right, steering.lock_left])).steer
    apart = (left * right < 0) & (np.abs(left - right) > OPPOSED)
    beyond = {side: (angle < low - BEYOND_LOCK) | (angle > high + BEYOND_LOCK)
              for side, angle, low, high in (("left", left, *ends[:, 0]), ("right", right, *ends[:, 1]))}  # fmt: skip
    for index, row in enumerate(paired):
        pair, source, place = f"{np.degrees(left[index]):g} and {np.degrees(right[index]):g} degrees", *_at(readings, row)
        if apart[index]:
            problem = f"the wheels point to opposite sides ({pair})"
            raise InputError(source, place, problem, "angles are positive to the left for both wheels")
        for side, (low, high) in zip(beyond, np.degrees(ends.T), strict=True):
            if beyond[side][index]:
                problem = f"the {side} wheel cannot stand so ({pair}): as planned its locks are at {low:.1f} and {high:.1f} degrees"
                raise InputError(
                    source,
                    place,
                    problem,
                    "check the reading, the sign, the set-up's name, and whether the scenario's lengths are this car's",
                )


def _at(readings: Readings, row: int) -> tuple[str, str]:
    return readings.source_of(row), readings.place(row)


def _check_signs(readings: Readings, paired: np.ndarray, steering: Steering) -> None:
    left, right = readings.value[paired, WHEEL_LEFT], readings.value[paired, WHEEL_RIGHT]
    error = readings.error[paired, WHEEL_LEFT]
    mean, difference = (left + right) / 2, left - right
    planned = difference_at(steering, mean)
    known = np.isfinite(planned)
    if known.sum() < FEWEST_TO_JUDGE:
        return
    one_sign = bool(np.all(mean > 0) or np.all(mean < 0))
    clear = known & (np.abs(planned) > CLEAR + 3 * error)
    along = np.where(known, difference * np.sign(planned), 0.0)  # above 0 where the readings differ as planned
    agrees, opposes = clear & (along > SEEN * np.abs(planned)), clear & (along < -SEEN * np.abs(planned))
    if one_sign and agrees.sum() >= 2 and opposes.sum() >= 2:
        word = "positive" if mean[0] > 0 else "negative"
        raise InputError(
            *_at(readings, paired[int(np.argmax(opposes))]),
            f"here one wheel turns more, elsewhere the other, but all readings are {word}",
            "enter left turns as positive and right turns as negative angles",
        )  # fmt: skip

    def misfit(turned: float) -> float:
        left_over = (difference - turned * planned)[known]
        return float(np.abs(left_over - np.median(left_over)).sum())

    usual = float(error.mean())
    if misfit(-1.0) < NEARER * misfit(1.0) and misfit(1.0) - misfit(-1.0) > usual * known.sum():
        worst = int(np.argmax(np.where(known, np.abs(planned), -1.0)))
        # Left less right is inner less outer in size in both turns.
        more, less = ("more", "less") if planned[worst] > 0 else ("less", "more")
        raise InputError(
            *_at(readings, paired[worst]),
            f"the inner wheel turns {less} than the outer here and in the other turns, where the plan says {more}",
            "are the columns swapped, or right turns entered as positive? if neither, the arms are kinked the wrong way",
        )  # fmt: skip


def difference_at(steering: Steering, mean: np.ndarray) -> np.ndarray:
    """How much further left the left wheel stands than the right one.

    steering : Steering
    mean : (n,) mean angle of both wheels [rad]
    Returns (n,) left less right [rad]; nan beyond the locks.
    """
    hand = hand_where(steering, lambda wheels: wheels.steer.mean(axis=1), mean)
    known = np.isfinite(hand)
    planned = np.full(len(mean), nan)
    steer = steering.front_wheels(hand[known]).steer
    planned[known] = steer[:, 0] - steer[:, 1]
    return planned
