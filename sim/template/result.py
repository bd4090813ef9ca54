"""What `template` tells of the sheets that it wrote."""

from collections.abc import Sequence
from dataclasses import dataclass

from sim.linkages.pivots import LEFT, RIGHT
from sim.study.dangers import Dangers
from sim.template.plan import Protractor, SheetPlan


@dataclass(frozen=True)
class ScaleFigures:
    """One scale.

    name : what turns
    ruler_outside_pivot_mm : the ruler's edge outside the pivot, straight ahead [mm]
    from_deg, to_deg : ends of the scale [deg]
    pages : on which it is printed, from 1 [-]
    """

    name: str
    ruler_outside_pivot_mm: float
    from_deg: float
    to_deg: float
    pages: tuple[int, ...]


@dataclass(frozen=True)
class PlacingFigures:
    """Where the sheets lie under the car.

    pivots_apart_mm : between the pivots of both sheets [mm]
    to_rear_tyre_mm, diagonal_mm : from a pivot to the middle of the rear tyre on its side, and on the other [mm]
    """

    pivots_apart_mm: float
    to_rear_tyre_mm: float
    diagonal_mm: float


@dataclass(frozen=True)
class StraightAhead:
    """The wheels straight ahead.

    left_deg, right_deg : planned angles, positive to the left [deg]
    """

    left_deg: float
    right_deg: float


@dataclass(frozen=True)
class PairFigures:
    """One pair of target angles, positive to the left.

    letter : its name on the sheets; turn : "left" or "right"
    hand_deg : hand angle that gives it [deg]
    outer_deg, inner_deg : planned angles of the outer and the inner wheel [deg]
    ideal_inner_deg : what the inner wheel should have for that outer angle [deg]
    error_deg : the planned inner angle less that [deg]
    left_deg, right_deg : planned angles of both wheels [deg]
    """

    letter: str
    turn: str
    hand_deg: float
    outer_deg: float
    inner_deg: float
    ideal_inner_deg: float
    error_deg: float
    left_deg: float
    right_deg: float


@dataclass(frozen=True)
class Worksheet:
    """What the worksheet asks for.

    plan : of the readings, "quick" or "full"; empty where nothing is fitted
    rows : of the worksheet [-]; columns : of the file, empty where nothing is fitted
    minutes : of reading, as `bench --plan` has it, 0 where nothing is fitted [min]
    """

    plan: str
    rows: int
    columns: tuple[str, ...]
    minutes: float


@dataclass(frozen=True)
class NoPair:
    """An outer angle for which there is no pair.

    turn : "left" or "right"
    outer_deg : angle of the outer wheel [deg]
    """

    turn: str
    outer_deg: float


@dataclass(frozen=True)
class TemplateResult:
    """What `template` wrote.

    title : of the scenario; setup : the set-up's name; setup_named : whether it was asked for by name
    linkage : the set-up's
    written : the file; paper : its size; pages : how many [-]
    scales : one a wheel, or one for the axle
    placing, straight_ahead : where the sheets lie, and the wheels on them
    pairs : targets, left turns first; without_pair : outer angles that have none
    worksheet : what it asks for; dial_page : that of the hand wheel's dial, None where there is none [-]
    dangers : where the planned steering can snap over or jam
    """

    title: str
    setup: str
    setup_named: bool
    linkage: str
    written: str
    paper: str
    pages: int
    scales: tuple[ScaleFigures, ...]
    placing: PlacingFigures
    straight_ahead: StraightAhead
    pairs: tuple[PairFigures, ...]
    worksheet: Worksheet
    dial_page: int | None
    without_pair: tuple[NoPair, ...]
    dangers: Dangers


def told_of(
    plan: SheetPlan, worksheet: Worksheet, linkage: str, setup_named: bool, written: str, paper: str, pages: int,
    pages_of: Sequence[Sequence[int]], dial_page: int | None,
) -> TemplateResult:  # fmt: skip
    """The figures of a template that was written.

    plan : what it shows; worksheet : what it asks for; linkage : the set-up's; setup_named : whether the set-up was asked for by name
    written, paper : the file and the size of its sheets; pages : how many [-]; pages_of : of each of the plan's scales, from 1 [-]
    dial_page : that of the hand wheel's dial, None where there is none [-]
    Returns TemplateResult.
    """
    placing = plan.placing
    pairs = tuple(
        PairFigures(
            letter=pair.letter, turn=pair.turn, hand_deg=pair.hand_deg, outer_deg=pair.outer_deg, inner_deg=pair.inner_deg,
            ideal_inner_deg=pair.ideal_inner_deg, error_deg=pair.inner_deg - pair.ideal_inner_deg, left_deg=pair.wheels_deg[LEFT],
            right_deg=pair.wheels_deg[RIGHT],
        )
        for pair in plan.pairs
    )  # fmt: skip
    return TemplateResult(
        title=plan.title, setup=plan.setup, setup_named=setup_named, linkage=linkage, written=written, paper=paper, pages=pages,
        scales=tuple(_scale_figures(scale, on) for scale, on in zip(plan.protractors, pages_of, strict=True)),
        placing=PlacingFigures(placing.pivots_apart_mm, placing.to_rear_mm, placing.diagonal_mm),
        straight_ahead=StraightAhead(*plan.straight_deg),
        pairs=pairs,
        worksheet=worksheet,
        dial_page=dial_page,
        without_pair=tuple(NoPair(turn, float(outer)) for turn, outer in plan.beyond_deg),
        dangers=plan.dangers,
    )  # fmt: skip


def _scale_figures(scale: Protractor, pages: Sequence[int]) -> ScaleFigures:
    outside = scale.beside_mm if scale.left_mm >= 0 else -scale.beside_mm
    return ScaleFigures(scale.name, outside, float(scale.low_deg), float(scale.high_deg), tuple(pages))
