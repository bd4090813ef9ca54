"""The sentences on a template's pages, for readers who have never measured a steering."""

from collections.abc import Sequence
from math import floor

from sim.bench.result import PlanResult
from sim.template.plan import Protractor, SheetPlan
from viz.shared.checks import CAUTIONS
from viz.shared.dangers import STOP_GROUND, short_before_words, stop_ends, stop_line
from viz.shared.effort import PLACING, floor_words
from viz.template.dial import COLUMNS_AT
from viz.template.scale import RULER_LINE_AT


def sheet_words(scale: Protractor, plan: SheetPlan) -> str:
    """What stands at the top of each sheet with a scale."""
    # What may hurt somebody comes first, and in so few words that two lines hold all.
    stops = ", ".join(f"{stop} deg {side}" for side, stop, _ in stop_ends(plan.dangers))
    stops = f"Stops, at the {plan.dangers.hand_is}: before {stops}{short_before_words(plan.dangers)}. " if stops else ""
    ideal = " Ring and letter: ideal." if scale.ideal else ""
    return (
        f"{stops}Degrees, to the right with a minus. Bold bar and letter: planned.{ideal} The angle is the mean of what both ends of the "
        "ruler show."
    )


def stop_sentence(plan: SheetPlan) -> str:
    """Where a stop belongs before anybody turns the hand wheel, and its ground; empty where no rod comes in line."""
    line = stop_line(plan.dangers)
    return f"{line} No row of the worksheet goes there. ({STOP_GROUND})" if line else ""


def names_of(plan: SheetPlan) -> tuple[str, str]:
    """Whose sheets they are, in the two lines that stand on each."""
    warned = f"{plan.examples} numbers are examples, not measured: " if plan.examples else ""
    return f'{warned}scenario "{plan.title}"', f'set-up "{plan.setup}"'


def signed(angle_deg: float) -> str:
    """An angle for a table: of a rack's hand wheel, which can have four digits, without a decimal.  angle_deg [deg]"""
    places = 1 if abs(angle_deg) < 99.95 else 0
    return f"{round(angle_deg, places) + 0.0:.{places}f}".replace("-", "\N{MINUS SIGN}")


NEEDED = (
    "two people, these sheets, scissors, adhesive tape, chalk, pencil, steel rule, a long ruler, tape measure, string, plumb bob, spirit "
    "level, two turn plates, wheel chocks"
)
NEEDED_AT_WHEELS = ", a straight edge longer than a front wheel and two equal blocks to lay it on"
# Cutting and joining go before the car is there.  Judgements. [min]
JOINING = 10


def needed_lines(plan: SheetPlan, readings: PlanResult | None) -> list[str]:
    """What is needed and how long it takes."""
    reading = "about 10 minutes" if readings is None else f"about {readings.minutes:.0f} minutes (the {readings.plan} plan)"
    in_all = "" if readings is None else f" {floor_words(readings.minutes)}"
    return [
        f"You need: {NEEDED}{'' if plan.turntable else NEEDED_AT_WHEELS}.",
        f"It takes: cutting and joining the sheets {JOINING} minutes, at a table; placing car and sheets {PLACING:.0f} minutes; reading "
        f"{reading}. These times are judgements.{in_all}",
    ]


def plate_words(plan: SheetPlan) -> str:
    """What a turn plate is and how large it may be, so that it leaves the scales free."""
    if plan.turntable:
        return (
            "A turn plate is two smooth boards with grease between them, each as thin as will bear the car. One lies below each front "
            "tyre, clear of the sheet. Lay boards as thick below the rear tyres, and chock them."
        )
    room = 2 * min(scale.scale_at_mm + RULER_LINE_AT for scale in plan.protractors)
    return (
        "A turn plate is two smooth boards with grease between them, each as thin as will bear the car. It lies on its sheet, between the "
        f"two scales, below the tyre: at most {10 * floor(room / 10):.0f} mm long, so that no mark is covered. Lay boards as thick below "
        "the rear tyres, and chock them."
    )


def steps(plan: SheetPlan, readings: PlanResult | None) -> list[tuple[str, str]]:
    """What to do, one step after the other: heading and words."""
    what = "axle" if plan.turntable else "wheel"
    print_step = "Measure both 100 mm lines of every sheet that has them with a steel rule. Use it only if both are 100 mm."
    join = (
        "At each join, cut the sheet with the lower number along the dashed line, lay it on the same line of its neighbour, crosses on "
        "crosses, and tape it."
    )
    if plan.dials:
        join += (
            " Cut out the dial too, with its middle as wide as the steering column; slip it on from the slit and tape it to the column or "
            "to the hand wheel's hub. Wheels straight ahead: tape a pointer to the car's body, at S."
        )
    stand = f"{CAUTIONS[1]} {CAUTIONS[0]} {stop_sentence(plan)}".rstrip()
    read = (
        "Read the degrees where the ruler crosses the scale's arc, to a quarter of a degree, at both ends. "
        f"The {what}'s angle is their mean: 12.5 and 11.5 make 12. Both ends differ by a few degrees when the ruler lies further "
        "out or in than planned; the mean puts that right. If they differ by more than 8, look for a slip."
    )
    if readings is None:
        write = "Write both readings and their mean on the worksheet, row by row."
    else:
        write = (
            "Work down the worksheet: what needs no sheets on the floor stands first, the wheel angles last. Set each line afresh, read it "
            "afresh, and don't copy what you wrote before."
        )
    if not plan.turntable:
        write += (
            " On the inner wheel's sheet, how far the mean misses the bold bar is what building the car has changed; "
            "how far the bar stands from the ring is what the design itself misses."
        )
    place = _place_axle(plan) if plan.turntable else _place_wheels(plan)
    return [
        ("Check the print", print_step),
        ("Join the sheets", join),
        ("Stand the car safely", stand),
        ("Place the sheet" if plan.turntable else "Place the sheets", f"{place} {plate_words(plan)}"),
        (f"Sight the {what}", SIGHT_AXLE if plan.turntable else SIGHT_WHEEL),
        ("Read both ends", read),
        ("Write it down", write),
    ]


def _place_axle(plan: SheetPlan) -> str:
    return (
        "Hang a plumb line from the middle of the axle's pivot bolt and put the pivot of the sheet below it. It is "
        f"{plan.placing.to_rear_mm:.0f} mm from the middle of either rear tyre; both distances must be equal. Stretch a chalked string "
        "from the pivot to the middle between the rear tyres: it covers the sheet's line along the car. A sheet a few millimetres off does "
        "no harm; a twisted one does."
    )


def _place_wheels(plan: SheetPlan) -> str:
    placing = plan.placing
    return (
        "Hang a plumb line from the middle of each kingpin at hub height and put the kingpins of the sheets below it, "
        f"{placing.pivots_apart_mm:.0f} mm apart. Stretch a chalked string through both: it covers the line across the car on "
        f"both sheets. From each kingpin to the middle of the rear tyre on its side: {placing.to_rear_mm:.0f} mm. Both diagonals: "
        f"{placing.diagonal_mm:.0f} mm, and equal. A sheet a few millimetres off does no harm; a twisted one does."
    )


SIGHT_AXLE = (
    "Turn the axle to a letter. Hang a plumb line from the middle of the axle tube near its left end, then near its right end. "
    "Mark both dots with a pencil and lay the long ruler through them."
)
SIGHT_WHEEL = (
    "To read a wheel, hold the straight edge, level by the spirit level, at hub height against the outside of the rim, over two equal "
    "blocks that just clear the tyre. Hang a plumb line from each end, on the face that is towards the wheel. Mark both dots with a pencil "
    "and lay the long ruler through them."
)


# A third: the trial of 300 cars in tests/bench/test_trial.py.
LATH = (
    "Surer, if you like: hold a straight lath of about 800 mm along each rim and measure at two marks on it, their distance being rim_mm; "
    "toe then errs by a third less."
)
FROM_RIM = "Each line of the file has rim_mm too."
HOW_TO_FILE = (
    'Each table can be a file of its own: the bold names in line 1, a line for each line here, then give all of them to "scrubwise bench". '
    'Or type the lines in, one after the other: "scrubwise bench SCENARIO --type FILE.csv" asks for them in this order.'
)


def compare_words(plan: SheetPlan) -> str:
    """What stands above the worksheet of a set-up of which nothing is fitted."""
    how = (
        "Set the axle to each letter and read both ends of the ruler; their mean is the axle's angle." if plan.turntable else
        f"S is straight ahead. Otherwise {SET_OUTER}. Read both wheels and write down the mean of each wheel's two readings."
    )  # fmt: skip
    return f"{how} This set-up has no rods to set, so the sheet is for comparing with the plan: nothing here can be fitted."


SET_OUTER = "turn the hand wheel until the outer wheel reads its letter: the right wheel in a left turn, the left wheel in a right turn"


def dial_words(plan: SheetPlan, marks: Sequence[str]) -> list[str]:
    """What stands below the dial.  marks : of the settings of the plan"""
    letters = "Letters A and on: the floor sheets' letters, left turns clockwise of S." if plan.pairs else ""
    asked = f"{', '.join(marks)}: where the worksheet asks for a reading." if marks else ""
    return [
        "The dial turns with the hand wheel below a pointer that is fixed to the car, as the driver sees it. Degrees; a plain number is a "
        f"turn to the left, a minus one to the right. {letters} {asked}",
        "Cut along the outer circle, from the slit at the foot to the middle, and along the circle that fits your column: "
        f"{', '.join(f'{2 * radius:.0f}' for radius in COLUMNS_AT)} mm across.",
    ]
