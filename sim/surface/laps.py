"""What `import sim` finds of a scenario: laps, wheel angles, a steady turn, their figures as tables.

Each holds the frozen result that the command of the same job prints, so nothing is worked out here a second time.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass
from functools import cached_property
from pathlib import Path
from typing import TYPE_CHECKING

from sim.study.angles import AnglesResult, angles_result
from sim.study.compare import Comparison
from sim.study.compare import compare as compare_setups
from sim.study.corner import CornerResult, check_turn, corner_result
from sim.study.ready import entries_of
from sim.study.rows import rows_of
from sim.study.summary import RunSummary, summary
from sim.surface.case import Case, OfCase
from sim.surface.frames import few_digits, frame, quoted
from sim.surface.given import case_of, degrees, number

if TYPE_CHECKING:
    import pandas as pd


@dataclass(frozen=True, repr=False)
class Laps(OfCase):
    """Laps of every set-up.  case : what was driven; comparison : all that is known of the laps, in SI units."""

    case: Case
    comparison: Comparison

    def finding(self) -> str:
        """Which set-up needs least drive work, and how much more the other end needs."""
        return compared({one.name: one.drive_work_J for one in self.summary.setups}, "J of drive work", "no set-up finishes")

    @cached_property
    def summary(self) -> RunSummary:
        """The figures, as `scrubwise run --json` has them."""
        return summary(self.comparison)

    def table(self) -> pd.DataFrame:
        """A row a set-up: what it needs and where that goes, as in a run folder's summary.csv."""
        return frame(rows_of([asdict(one) for one in self.summary.setups]), ["name"])

    def trace(self, setup: str | int) -> pd.DataFrame:
        """A set-up's last lap at 50 Hz: time, place, speed, steering, and each wheel's slip, load and forces.

        setup : its name, its number from 1 or a beginning of its name [-]
        Raises InputError where none or several are meant.
        """
        import pandas as pd

        return pd.DataFrame(self.comparison.results[self.case.place_of(setup)].trace.columns())


@dataclass(frozen=True, repr=False)
class Angles(OfCase):
    """What the front wheels do.  case : whose; result : as `scrubwise angles --json` has it."""

    case: Case
    result: AnglesResult

    def finding(self) -> str:
        """Which set-up turns in the smallest circle."""
        circles = {one.name: one.turning_circle_kerb_m for one in self.result.setups}
        least = min(circles, key=circles.__getitem__)
        return f"smallest turning circle {circles[least]:.3g} m, {quoted(least)}"

    def table(self) -> pd.DataFrame:
        """A row a set-up: its lock, its turning circles, its steering ratio."""
        inner = ("rods", "rows", "hand_torque", "beyond_lock_outer_deg")
        return frame([{key: value for key, value in asdict(one).items() if key not in inner} for one in self.result.setups], ["name"])

    def trace(self, setup: str | int) -> pd.DataFrame:
        """A set-up's wheels over the hand wheel's range, or at the outer angles that were asked for.

        setup : as for `Laps.trace` [-].  Raises InputError likewise.
        """
        import pandas as pd

        return pd.DataFrame([asdict(row) for row in self.result.setups[self.case.place_of(setup)].rows])


@dataclass(frozen=True, repr=False)
class Corner(OfCase):
    """One steady turn of every set-up.  case : whose; result : as `scrubwise corner --json` has it."""

    case: Case
    result: CornerResult

    def finding(self) -> str:
        """Which set-up needs least drive force in this turn."""
        radius, speed = self.result.radius_m, self.result.speed_m_per_s
        turn = f"{abs(radius):g} m to the {'left' if radius > 0 else 'right'} at {speed:g} m/s"
        forces = {one.name: one.drive_force_N for one in self.result.setups}
        return f"{turn}: {compared(forces, 'N of drive force', 'there is no such turn')}"

    def table(self) -> pd.DataFrame:
        """A row a set-up: hand angle, sideslip, drive force, power lost."""
        inner = ("wheels", "hand_torque_by_law_N_m", "ladder")
        rows = [{key: value for key, value in asdict(one).items() if key not in inner} for one in self.result.setups]
        reasons = [{"reason": one.reason.value if one.reason else None} for one in self.result.setups]
        return frame([row | reason for row, reason in zip(rows, reasons, strict=True)], ["name"])

    def wheels(self) -> pd.DataFrame:
        """A row a set-up and wheel: its angle, slip, load, forces and loss; none of a set-up that has no such turn."""
        turns = [(one.name, one.wheels) for one in self.result.setups if one.wheels is not None]
        rows = [{"name": name, "wheel": wheel, **asdict(turn)} for name, wheels in turns for wheel, turn in wheels.items()]
        return frame(rows, ["name", "wheel"])


def compare(case: Case | str | Path) -> Laps:
    """Lap every set-up.  The first use on a machine makes the fast code, about 40 seconds.

    case : of `load`, `from_text` or `from_tables`, or what `load` takes
    Returns Laps.  Raises InputError for what cannot be built or driven at all.
    """
    driven = case_of(case)
    return Laps(driven, compare_setups(driven.scenario, driven.folder, driven.source))


def angles(
    case: Case | str | Path, outer_deg: Sequence[float] | None = None, radius_m: float = 8.0, speed_m_per_s: float = 3.0
) -> Angles:  # fmt: skip
    """Wheel angles of every set-up.

    case : as for `compare`; outer_deg : of the outer wheel in a left turn, from 0 to 89 [deg], None for the hand wheel's range
    radius_m, speed_m_per_s : of the turn whose hand torque is told [m], [m/s]
    Returns Angles.  Raises InputError for what cannot be built, and for an angle or a turn out of bounds.
    """
    asked, turn = case_of(case), _turn(radius_m, speed_m_per_s)
    outer = None if outer_deg is None else degrees(outer_deg, "outer_deg")
    return Angles(asked, angles_result(asked.scenario, entries_of(asked.scenario, asked.source), outer, *turn))


def corner(case: Case | str | Path, radius_m: float, speed_m_per_s: float) -> Corner:
    """One steady turn of every set-up, wheel by wheel.

    case : as for `compare`; radius_m : of the mass centre's path, positive to the left [m]; speed_m_per_s : of the mass centre [m/s]
    Returns Corner.  Raises InputError for what cannot be built, and for a turn out of bounds.
    """
    asked, turn = case_of(case), _turn(radius_m, speed_m_per_s)
    return Corner(asked, corner_result(asked.scenario, entries_of(asked.scenario, asked.source), *turn, False))


def compared(figures: Mapping[str, float | None], unit: str, none: str) -> str:
    """The least of some figures and, where it is another, the most.

    figures : by set-up, None for none [that of `unit`]; unit : their unit and what they are; none : what is said where there is no figure
    """
    there = {name: value for name, value in figures.items() if value is not None}
    if not there:
        return none
    least, most = min(there, key=there.__getitem__), max(there, key=there.__getitem__)
    told = f"{quoted(least)} needs least, {few_digits(there[least])} {unit}"
    if there[most] > there[least] > 0:
        told += f", {quoted(most)} {100 * (there[most] / there[least] - 1):.2g} % more"
    return told


def _turn(radius_m: float, speed_m_per_s: float) -> tuple[float, float]:
    """A turn, checked."""
    radius = number(radius_m, "radius_m", "give the radius in metres, positive to the left")
    speed = number(speed_m_per_s, "speed_m_per_s", "give the speed in metres per second")
    check_turn(radius, speed, "radius_m", "speed_m_per_s")
    return radius, speed
