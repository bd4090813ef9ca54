"""What `import sim` finds of a scenario: laps, wheel angles, a steady turn, their figures as tables.

Each holds the frozen result that the command of the same job prints, so nothing is worked out here a second time.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import asdict, dataclass
from functools import cached_property
from typing import TYPE_CHECKING

from sim.errors import InputError
from sim.study.angles import AnglesResult, angles_result
from sim.study.compare import Comparison
from sim.study.compare import compare as compare_setups
from sim.study.corner import CornerResult, check_turn, corner_result
from sim.study.ready import entries_of
from sim.study.rows import rows_of
from sim.study.summary import RunSummary, summary
from sim.surface.case import Case
from sim.surface.frames import Framed, frame

if TYPE_CHECKING:
    import pandas as pd


@dataclass(frozen=True)
class Laps(Framed):
    """Laps of every set-up.  case : what was driven; comparison : all that is known of the laps, in SI units."""

    case: Case
    comparison: Comparison

    @property
    def title(self) -> str:
        """Of the scenario."""
        return self.case.title

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


@dataclass(frozen=True)
class Angles(Framed):
    """What the front wheels do.  case : whose; result : as `scrubwise angles --json` has it."""

    case: Case
    result: AnglesResult

    @property
    def title(self) -> str:
        """Of the scenario."""
        return self.case.title

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


@dataclass(frozen=True)
class Corner(Framed):
    """One steady turn of every set-up.  case : whose; result : as `scrubwise corner --json` has it."""

    case: Case
    result: CornerResult

    @property
    def title(self) -> str:
        """Of the scenario."""
        return self.case.title

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


def compare(case: Case) -> Laps:
    """Lap every set-up.  The first use on a machine makes the fast code, about 40 seconds.

    case : of `load`, `from_text` or `from_tables`
    Returns Laps.  Raises InputError for what cannot be built or driven at all.
    """
    return Laps(case, compare_setups(case.scenario, case.folder, case.source))


def angles(case: Case, outer_deg: Sequence[float] | None = None, radius_m: float = 8.0, speed_m_per_s: float = 3.0) -> Angles:
    """Wheel angles of every set-up.

    case : as for `compare`; outer_deg : of the outer wheel in a left turn, from 0 to 89 [deg], None for the hand wheel's range
    radius_m, speed_m_per_s : of the turn whose hand torque is told [m], [m/s]
    Returns Angles.  Raises InputError for what cannot be built, and for an angle or a turn out of bounds.
    """
    check_turn(radius_m, speed_m_per_s, "radius_m", "speed_m_per_s")
    for angle in outer_deg if outer_deg is not None else ():
        if not 0.0 <= angle <= 89.0:
            raise InputError("outer_deg", "", f"{angle:g} is not between 0 and 89", "give degrees of the outer wheel")
    entries = entries_of(case.scenario, case.source)
    return Angles(case, angles_result(case.scenario, entries, outer_deg, radius_m, speed_m_per_s))


def corner(case: Case, radius_m: float, speed_m_per_s: float) -> Corner:
    """One steady turn of every set-up, wheel by wheel.

    case : as for `compare`; radius_m : of the mass centre's path, positive to the left [m]; speed_m_per_s : of the mass centre [m/s]
    Returns Corner.  Raises InputError for what cannot be built, and for a turn out of bounds.
    """
    check_turn(radius_m, speed_m_per_s, "radius_m", "speed_m_per_s")
    return Corner(case, corner_result(case.scenario, entries_of(case.scenario, case.source), radius_m, speed_m_per_s, False))
