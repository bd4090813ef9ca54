"""The sentences on a template's pages, for readers who have never measured a steering."""

from sim.bench.readings import PAIR_COLUMNS
from sim.template.plan import Protractor, SheetPlan
from viz.shared.checks import CAUTIONS
from viz.shared.dangers import STOP_GROUND, stop_ends, stop_line


def sheet_words(scale: Protractor, plan: SheetPlan) -> str:
    """What stands at the top of each sheet with a scale."""
    stops = ", ".join(f"{stop} deg {side}" for side, stop, _ in stop_ends(plan.dangers))
    ideal = " Ring and letter: ideal." if scale.ideal else ""
    return (
        "Degrees; a plain number is a turn to the left, a minus one to the right. Bold bar and letter: planned."
        f"{ideal} Read both ends of the ruler: the mean is the angle.{f' Stops: before {stops}.' if stops else ''}"
    )


def stop_sentence(plan: SheetPlan) -> str:
    """Where a stop belongs before anybody turns the hand wheel, and its ground; empty where no rod comes in line."""
    line = stop_line(plan.dangers)
    return f"{line} No row of the worksheet goes there. ({STOP_GROUND})" if line else ""


def steps(plan: SheetPlan) -> list[tuple[str, str]]:
    """What to do, one step after the other: heading and words."""
    what = "axle" if plan.turntable else "wheel"
    print_step = "Measure both 100 mm lines of every sheet with a steel rule. Use only sheets on which both are 100 mm."
    join = (
        "At each join, cut one of the two sheets along the dashed line, lay it on the same line of its neighbour, crosses on "
        "crosses, and tape it."
    )
    read = (
        "Read the degrees where the ruler crosses the scale's arc, to a quarter of a degree, at both ends. "
        f"The {what}'s angle is their mean: 12.5 and 11.5 make 12. Both ends differ by a few degrees when the ruler lies further "
        "out or in than planned; the mean puts that right. If they differ by more than 8, look for a slip."
    )
    rows = len(plan.near_rows) + len(plan.turn_rows)
    write = f"Write both readings and their mean on the worksheet: {rows} rows, in their order."
    if plan.has_rods:
        write += f" All of them: {WHY_SO_MANY}"
    if not plan.turntable:
        write += (
            " On the inner wheel's sheet, how far the mean misses the bold bar is what building the car has changed; "
            "how far the bar stands from the ring is what the design itself misses."
        )
    return [
        ("Check the print", print_step),
        ("Join the sheets", join),
        ("Stand the car safely", f"{CAUTIONS[1]} {CAUTIONS[0]} {stop_sentence(plan)}".rstrip()),
        ("Place the sheet" if plan.turntable else "Place the sheets", _place_axle(plan) if plan.turntable else _place_wheels(plan)),
        (f"Sight the {what}", SIGHT_AXLE if plan.turntable else SIGHT_WHEEL),
        ("Read both ends", read),
        ("Write it down", write),
    ]


def _place_axle(plan: SheetPlan) -> str:
    return (
        "Hang a plumb line from the middle of the axle's pivot bolt and put the pivot of the sheet below it. It is "
        f"{plan.placing.to_rear_mm:.0f} mm from the middle of either rear tyre; both distances must be equal. Stretch a string from the "
        "pivot to the middle between the rear tyres: it covers the sheet's line along the car. A sheet a few millimetres off does "
        "no harm; a twisted one does."
    )


def _place_wheels(plan: SheetPlan) -> str:
    placing = plan.placing
    return (
        "Hang a plumb line from the middle of each kingpin at hub height and put the kingpins of the sheets below it, "
        f"{placing.pivots_apart_mm:.0f} mm apart. Stretch a string through both: it covers the line across the car on "
        f"both sheets. From each kingpin to the middle of the rear tyre on its side: {placing.to_rear_mm:.0f} mm. Both diagonals: "
        f"{placing.diagonal_mm:.0f} mm, and equal. A sheet a few millimetres off does no harm; a twisted one does."
    )


SIGHT_AXLE = (
    "Turn the axle to a letter. Hang a plumb line from the middle of the axle tube near its left end, then near its right end. "
    "Mark both dots and lay a long ruler through them."
)
SIGHT_WHEEL = (
    "Turn the hand wheel until the outer wheel reads its letter; then read the inner wheel. To read a wheel, hold a straight edge, "
    "longer than the wheel, level at hub height against the outside of the rim, over two equal blocks that just clear the tyre. "
    "Hang a plumb line from each end, on the face that is towards the wheel. Mark both dots and lay a long ruler through them."
)


WHY_SO_MANY = "one reading errs by half a degree, and only many together tell half a turn of a rod end."


def worksheet_words(plan: SheetPlan) -> list[str]:
    """What stands above the worksheet's first table."""
    if plan.has_rods:
        return [*_how_to_fill(plan), *_how_to_file(plan)]
    how = (
        "Set the axle to each letter and read both ends of the ruler; their mean is the axle's angle." if plan.turntable else
        f"S is straight ahead. Otherwise {SET_OUTER}. Read both wheels and write down the mean of each wheel's two readings."
    )  # fmt: skip
    return [f"{how} This set-up has no rods to set, so the sheet is for comparing with the plan: nothing here can be fitted."]


SET_OUTER = "turn the hand wheel until the outer wheel reads its letter: the right wheel in a left turn, the left wheel in a right turn"


def _how_to_fill(plan: SheetPlan) -> list[str]:
    rows = len(plan.near_rows) + len(plan.turn_rows)
    order = (
        f"Work down the rows in their order, all {rows}: {WHY_SO_MANY} The first {len(plan.near_rows)} are near straight ahead, where "
        "toe shows best. Each setting comes up again and again: set it afresh, read it afresh, and don't copy what you wrote before."
    )
    how = (
        f"S is the hand wheel in its middle. Otherwise {SET_OUTER}. Read both ends of both wheels, and write the mean of each wheel's "
        "two readings into left_deg and right_deg. hand_deg is what a scale on the hand wheel shows; leave it empty if there is none."
    )
    return [order, how]


def _how_to_file(plan: SheetPlan) -> list[str]:
    # The inner wheel scatters by its own reading error and by that of setting the outer one, so by root 2 of it; the range of
    # five such means is on average 2.33 of their standard deviation, so about three reading errors.
    repeated = plan.near_rows[0]
    wheel = repeated.turn or "left"
    file = (
        f'For the command "scrubwise bench" write {",".join(PAIR_COLUMNS)} in line 1 of a CSV file, and below it one line for each row of '
        "the sheet, with the number that stands here. A row that you could not read stays an empty line."
    )
    error = (
        f"reading_error_deg is how well you read, the same in every line. Look at all rows {repeated.name}: it is a third of the "
        f"difference between the largest and the smallest {wheel}_deg. Write it here:"
    )
    return [file, error]


def turns_words(plan: SheetPlan) -> str:
    """What stands above the worksheet's table of turns."""
    return (
        "From one lock to the other and back. Go on as on the sheet before: set each letter with the outer wheel, read both ends of both "
        "wheels afresh. Where a letter stands twice in a row, turn to the lock in between."
    )
