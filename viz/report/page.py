"""The page of a run: one file that opens anywhere, prints, and asks no network for anything."""

from base64 import b64encode
from collections.abc import Sequence
from hashlib import sha256
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from sim.car.chassis import WHEELS
from sim.lap.ledger import Ledger, causes
from sim.scenario.file import dump_scenario
from sim.scenario.scenario import Scenario
from sim.scenario.tables import HOUR
from sim.steering.angles import angle_rows, hand_range
from sim.steering.arrangement import Steering
from sim.store.run_folder import program_version
from sim.study.compare import Comparison, SetupResult
from sim.study.ready import entries_of
from viz.report.data import page_data, powers_at
from viz.report.dragged import ROUNDED, dearer_words, rubber_cells
from viz.report.inputs import input_groups
from viz.report.short import driven, five_answers
from viz.report.words import (
    SAFETY,
    Pair,
    caution_lines,
    excess_words,
    finding_line,
    left_out,
    legend_words,
    pair_lines,
    pair_of,
    place_chosen_words,
    sure_lines,
    to_do_lines,
    work_words,
    worth_words,
)  # fmt: skip
from viz.run.drawn import drawn_results
from viz.run.report import CURE_GROUND, course_line, cure_rows, shown_cost, with_dangers
from viz.shared.dangers import danger_lines, stops_line
from viz.shared.html import page_room
from viz.shared.rounding import shown_sum, tenths
from viz.shared.spans import bar_spans
from viz.shared.words import WHEEL_WORDS

if TYPE_CHECKING:
    from jinja2 import Environment

REPORT = "report.html"  # in every run folder
PAGES = Path(__file__).parent / "pages"
MOST_SHOWN = 12  # set-ups in replay and hand wheel; a page stays below its size with them
MOST_MAPS = 6
ANGLE_STRIDE = 2  # of the readable grid of hand angles, every how many of them has a row
WHOLE = "from start to finish"
DANGER = "Danger: "  # how its sentence begins
NO_BATTERY = (
    "A battery has to give more than the wheels take. For Wh from the battery and laps on a charge, fill in the tables [motor] (from "
    "motor.winding_resistance_ohm on) and [battery] (battery.rated_capacity_Ah and battery.nominal_voltage_V); for how far a race goes, "
    "also race.duration_min. The manual's page on the scenario lists their keys: `scrubwise manual scenario`."
)
NO_RACE = "For how far a race goes, fill in race.duration_min, or race.laps."
LAP_ROWS = 12  # of the table beside the replay
# Parts of a bar and of its table, in the order of the bar; the classes are those of report.css.
PARTS = (
    ("air drag", "air"), ("rolling resistance", "rolling"), ("brakes", "brakes"), ("tyres twisting on the road", "twist"),
    ("front tyres slipping sideways", "front"), ("rear tyres slipping sideways", "rear"), ("tyres slipping lengthways", "along"),
)  # fmt: skip
GAINS = ("height gained", "gained in speed", "kept in bent tyres")
HANDS = "put in by the driver's hands"  # counts against the parts, for the motor need not


def write_report(comparison: Comparison, folder: Path) -> None:
    """Write the page of a run into its folder.  comparison : the run; folder : an existing one.  Raises OSError where it can't."""
    (folder / REPORT).write_text(report_page(comparison), encoding="utf-8", newline="\n")


def report_page(comparison: Comparison, notes: Sequence[str] = ()) -> str:
    """The page of a run as HTML.  comparison : the run; notes : what else stands above the finding."""
    from jinja2.utils import htmlsafe_json_dumps

    scenario = kept_scenario(comparison.scenario)
    steerings = steerings_of(comparison)
    pair = pair_of(comparison, steerings)
    shown = _shown(comparison, steerings, pair)
    room = room_of(comparison)
    script, style = ((PAGES / name).read_text(encoding="utf-8") for name in ("report.js", "report.css"))
    drives = [entry for entry in shown if len(entry[0].trace.time)]
    data = None
    if drives:
        places = (
            [next(place for place, (one, _) in enumerate(drives) if one is side.result) for side in (pair.better, pair.worse)]
            if pair
            else [0]
        )
        data = page_data(comparison, drives, places, pair.station if pair else 0.0)
    return room.get_template("report.html").render(
        title=comparison.scenario.title, notes=notes, finding=finding_line(comparison), to_do=to_do_lines(comparison), safety=SAFETY,
        danger=danger_words(comparison), costs=costs_context(comparison), short=five_answers(comparison, pair),
        pair=_pair_context(pair, comparison),
        data=data and htmlsafe_json_dumps(data, dumps=compact), replayed=_replay_rows(data),
        hidden=len(comparison.results) - len(shown), wheels=[_wheel_context(one, steering, comparison) for one, steering in drives],
        maps=_maps_context(comparison), ledger=ledger_context(comparison), worth=worth_words(comparison), cures=cure_rows(comparison),
        cure_ground=CURE_GROUND, sure=sure_lines(comparison),
        left_out=left_out(), cautions=caution_lines(comparison), course=course_line(comparison), course_notes=comparison.course.notes,
        model=comparison.rung.label, groups=input_groups(scenario), toml=dump_scenario(scenario),
        course_file=scenario.course.file,
        version=program_version(), script=script, style=style,
        script_hash=b64encode(sha256(script.encode()).digest()).decode(),
    )  # fmt: skip


def kept_scenario(scenario: Scenario) -> Scenario:
    """A scenario as its run folder keeps it: the course's file beside it.  scenario : Scenario."""
    file = scenario.course.file
    return (
        scenario if file is None else scenario.model_copy(update={"course": scenario.course.model_copy(update={"file": Path(file).name})})
    )


def compact(value: Any, **options: Any) -> str:
    """JSON without blanks and without what is no number.  value : plain; options : of the writer, left aside."""
    import json

    return json.dumps(value, separators=(",", ":"), allow_nan=False)


def room_of(comparison: Comparison) -> "Environment":
    """What renders this room's pages.  comparison : whose set-ups' names stand on them."""
    return page_room(PAGES, [one.name for one in comparison.results])


def steerings_of(comparison: Comparison) -> list[Steering]:
    """The steering of each set-up.  comparison : the run."""
    return [entry.steering for entry in entries_of(comparison.scenario, "scenario.toml")]


def _shown(comparison: Comparison, steerings: Sequence[Steering], pair: Pair | None) -> list[tuple[SetupResult, Steering]]:
    """Set-ups that can be chosen on the page, those of the pair among them; ideal steering too where it is one of the pair."""
    drawn = drawn_results(comparison, MOST_SHOWN)
    told = [side.result for side in (pair.better, pair.worse)] if pair else []
    shown = [
        (one, steering) for one, steering in zip(comparison.results, steerings, strict=True)
        if any(one is other for other in (*drawn, *told))
    ]  # fmt: skip
    return shown + [(side.result, side.steering) for side in ((pair.better,) if pair else ()) if side.result is comparison.reference]


def _pair_context(pair: Pair | None, comparison: Comparison) -> dict[str, Any] | None:
    if pair is None:
        return None
    from viz.report.pictures import pair_pictures

    sides = (pair.better, pair.worse)
    rows = []
    for index, wheel in enumerate(WHEELS):
        cells = [
            (f"{np.degrees(side.steer[index]):+z.1f}", f"{np.degrees(side.slip[index]):+z.1f}", tenths(side.power[index])) for side in sides
        ]
        rows.append((WHEEL_WORDS[wheel], [cell for pair_cells in cells for cell in pair_cells]))
    total = ("all wheels", [cell for side in sides for cell in ("", "", tenths(side.total))])
    pictures = pair_pictures(pair, comparison)
    return {
        "legend": legend_words(pair), "lines": [*pair_lines(pair), place_chosen_words(pair, comparison)],
        "names": [side.name for side in sides], "rows": [*rows, total],
        "cars": list(zip([side.name for side in sides], pictures, strict=True)),
    }  # fmt: skip


def _replay_rows(data: dict[str, Any] | None) -> list[list[str]]:
    """What the tyres of each set-up lose at even places of the course, as the replay beside it shows it there [W].

    data : what the page's script reads, None for nothing; a cell is empty where a set-up did not get so far
    """
    if data is None:
        return []
    laps = [one["lap"] for one in data["setups"]]
    ends = max(lap["station"][-1] for lap in laps)
    rows = []
    for place in range_of(ends):
        cells = [tenths(shown_sum(powers_at(lap, place))) if place <= lap["station"][-1] + 1.0 else "" for lap in laps]
        rows.append([f"{place}", *cells])
    return rows


def range_of(ends: float) -> list[int]:
    """Even places from 0 to the end, in whole metres, to which the slider goes too.  ends : of the course [m]"""
    return sorted({round(ends * step / LAP_ROWS) for step in range(LAP_ROWS)} | {int(ends)})


def _wheel_context(one: SetupResult, steering: Steering, comparison: Comparison) -> dict[str, Any]:
    hands = hand_range(steering)
    # Every other one, with straight ahead and both locks.
    straight = int(np.argmin(np.abs(hands)))
    kept = np.unique([0, *range(straight % ANGLE_STRIDE, len(hands), ANGLE_STRIDE), len(hands) - 1])
    rows = angle_rows(steering, comparison.scenario.car, hands[kept])
    table = np.degrees(np.column_stack([rows.hand, rows.left, rows.right, rows.ideal_inner, rows.error]))
    return {
        "name": one.name, "turns": steering.kind.hand.value, "dangers": [] if one.dangers is None else danger_lines(one.dangers),
        "rows": [[f"{hand:+z.1f}", *(f"{value:+z.2f}" for value in values)] for hand, *values in table],
    }  # fmt: skip


def _maps_context(comparison: Comparison) -> dict[str, Any] | None:
    shown = [one for one in drawn_results(comparison, MOST_MAPS) if len(one.trace.time) > 1]
    if not shown:
        return None
    from viz.report.pictures import map_pictures, power_stops

    pictures, top = map_pictures(comparison, shown)
    rows = []
    for one in comparison.results:
        lost = "" if one.ledger is None else tenths(one.ledger.scrub)
        rows.append((one.name, lost, rubber_cells(one.ledger)))
    words = [work_words(one) if one.ledger is None else f"{tenths(one.ledger.scrub)} J lost by slipping" for one in shown]
    return {
        "maps": list(zip([one.name for one in shown], words, pictures, strict=True)), "top": f"{top:.0f}" if top >= 10 else f"{top:.1f}",
        "stops": ", ".join(power_stops()), "rows": rows, "wheels": [WHEEL_WORDS[wheel] for wheel in WHEELS],
        "rounded": ROUNDED, "dearer": dearer_words(driven(comparison)),
    }  # fmt: skip


def danger_words(comparison: Comparison) -> str:
    """Where a steering of the run can snap over, for the page's own place for that; empty where none can.  comparison : the run."""
    return "".join(stops_line(with_dangers(comparison))).removeprefix(DANGER)


def costs_context(comparison: Comparison) -> dict[str, Any] | None:
    """What each set-up needs, as the first table of the page, and what it takes to know more; None where nothing got round.

    comparison : the run
    """
    results = comparison.results
    if not any(one.ledger for one in results):
        return None
    electric, raced = any(one.ledger and one.ledger.electric for one in results), any(one.race for one in results)
    headings = ["drive work J", "beyond ideal J", "battery energy Wh" if electric else "at the wheels Wh"]
    headings += ["laps on a charge"] if electric else []
    headings += ["race km"] if raced else []
    rows = []
    for one in results:
        if one.ledger is None:
            rows.append((one.name, [(headings[0], work_words(one))], len(headings) - 1))
            continue
        cost = shown_cost(one, comparison)
        cells = [tenths(one.ledger.drive_work), "" if cost != cost else f"{cost:+z.1f}", watt_hours(one.ledger)]
        cells += [f"{one.laps_per_charge:.1f}" if one.ledger.electric else ""] if electric else []
        cells += [f"{one.race.distance / 1000:.2f}" if one.race else ""] if raced else []
        rows.append((one.name, list(zip(headings, cells, strict=True)), 0))
    needs = "" if raced else NO_RACE if electric else NO_BATTERY
    return {"headings": headings, "rows": rows, "needs": needs, "where": "on one lap" if comparison.course.closed else WHOLE}


def watt_hours(ledger: Ledger) -> str:
    """What a lap takes of the battery, or of the wheels where there is none [Wh].  ledger : of the lap"""
    return f"{ledger.electric.battery / HOUR:.2f}" if ledger.electric else f"{ledger.drive_work / HOUR:.3f}"


def ledger_context(comparison: Comparison) -> dict[str, Any]:
    """Bars and table of where the drive work went.  comparison : the run."""
    results, ideal = comparison.results, comparison.reference.ledger
    ledgers = [one.ledger for one in results]
    longest = max([sum(max(causes(ledger)[name], 0.0) for name, _ in PARTS) for ledger in ledgers if ledger] or [1.0]) or 1.0
    costs = [None if cost != cost else cost for cost in (shown_cost(one, comparison) for one in results)]
    bars = []
    for one, (start, width), cost in zip(results, bar_spans(costs), costs, strict=True):
        parts = [] if one.ledger is None else [
            (kind, f"{100 * max(causes(one.ledger)[name], 0.0) / longest:.2f}") for name, kind in PARTS
        ]  # fmt: skip
        bars.append({
            "name": one.name, "work": work_words(one), "reason": one.reason, "parts": parts, "excess": excess_words(one, comparison),
            "start": f"{start:.1f}", "width": f"{width:.1f}", "saves": cost is not None and cost < 0,
        })  # fmt: skip
    columns = [name for name, _ in PARTS]
    braked = any(ledger.electric and ledger.electric.regenerated for ledger in (*ledgers, ideal) if ledger)
    columns += [*GAINS, *(["given back to the battery"] if braked else []), HANDS, "drive work", "beyond ideal steering"]
    rows = [(one.name, True, _ledger_cells(one.ledger, cost, braked)) for one, cost in zip(results, costs, strict=True)]
    rows.append(("same car with ideal steering", False, _ledger_cells(ideal, None, braked)))
    if any(one.race for one in results):  # what a race on one charge is about
        columns += ["laps of the race", "race km"]
        raced = [(f"{one.race.laps:.1f}", f"{one.race.distance / 1000:.2f}") if one.race else ("", "") for one in results]
        rows = [(name, link, [*cells, *more]) for (name, link, cells), more in zip(rows, [*raced, ("", "")], strict=True)]
    return {
        "bars": bars, "parts": PARTS, "rows": rows, "columns": columns, "any": any(ledgers), "costs": any(
            cost is not None for cost in costs
        ), "where": "on one lap" if comparison.course.closed else WHOLE,
    }  # fmt: skip


def _ledger_cells(ledger: Ledger | None, cost: float | None, braked: bool) -> list[str]:
    """A row of the table of energies, whose parts add up to the drive work [J].

    ledger : of a lap, None without one; cost : beyond ideal steering [J]; braked : whether a motor of the run gave something back
    """
    parts = [name for name, _ in PARTS]
    if ledger is None:
        return [""] * (len(parts) + len(GAINS) + braked + 3)
    gains = [ledger.height, ledger.kinetic, ledger.deflection]
    gains += [ledger.electric.regenerated if ledger.electric else 0.0] if braked else []
    added = [*(causes(ledger)[name] for name in parts), *gains, -ledger.hand_work]
    return [*map(tenths, added), tenths(ledger.drive_work), "" if cost is None else f"{cost:+z.1f}"]
