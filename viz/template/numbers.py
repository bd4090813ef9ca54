"""The template command: a PDF that prints at true size, and what is said about it."""

from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path
from typing import Any

from rich.table import Table
from rich.text import Text

from sim.bench.design import plan_named
from sim.bench.result import plan_lines, planned_readings
from sim.errors import InputError
from sim.linkages.catalogue import KINDS
from sim.scenario.choice import chosen_setup, first_built
from sim.scenario.scenario import Scenario
from sim.steering.arrangement import build_steering
from sim.template.plan import MOST_BESIDE_MM, SheetPlan, plan_template, rows_to_compare
from sim.template.result import PairFigures, TemplateResult, Worksheet, told_of
from viz.shared.checks import CAUTIONS
from viz.shared.dangers import danger_lines
from viz.shared.files import write_file


def template_result(
    scenario: Scenario, source: str, setup_name: str | None, out_path: Path, paper: str, reading_plan: str = "quick"
) -> TemplateResult:  # fmt: skip
    """Write a set-up's floor template.

    scenario, source : the scenario and its name in messages
    setup_name : of the set-up; None takes the first with rods to set, else the first turntable axle, else the first
    out_path : the PDF to write or replace; paper : "a4", "letter" or "a3"
    reading_plan : "quick" or "full", or its beginning
    Returns TemplateResult.  Raises InputError for a set-up that is unknown or cannot be built, a paper that is
    unknown, and a file that cannot be written; what stood there then still stands.
    """
    # Drawing needs the plotting library, which takes a while to open.
    from viz.template.pages import build_pages
    from viz.template.paper import PAPERS, plain_settings, write_pdf

    paper = paper.lower()
    if paper not in PAPERS:
        raise InputError("--paper", "", f"{paper!r} is not known here", f"choose one of {', '.join(PAPERS)}")
    index = _chosen(scenario, setup_name, source)
    setup = scenario.setup[index]
    steering = build_steering(setup, scenario.car, source, setup.place)
    plan = replace(plan_template(scenario.title, steering, scenario.car), examples=scenario.examples)
    name = plan_named(reading_plan)
    readings = planned_readings(scenario, index, source, name) if plan.has_rods else None
    _check_offset(plan, source)

    def write(path: Path) -> None:
        with open(path, "wb") as stream:
            write_pdf(stream, pages, f"Floor template: {setup.name}")

    with plain_settings():
        pages, sheets, dial = build_pages(plan, readings, paper)
        write_file(out_path, ".pdf", write)
    pages_of = [[sheet.page + 1 for sheet in sheets if sheet.scale is scale] for scale in plan.protractors]
    if readings is None:
        sheet = Worksheet("", len(rows_to_compare(plan)), (), 0.0)
    else:
        sheet = Worksheet(readings.plan, len(plan_lines(readings)), readings.columns, readings.minutes)
    dial_page = None if dial is None else dial + 1
    return told_of(plan, sheet, steering.linkage, setup_name is not None, str(out_path), paper, len(pages), pages_of, dial_page)


def _chosen(scenario: Scenario, name: str | None, source: str) -> int:
    """Index of the set-up that is meant."""
    if name is None:
        return first_built([setup.kind for setup in scenario.setup])
    return chosen_setup([setup.name for setup in scenario.setup], name, source)


def _check_offset(plan: SheetPlan, source: str) -> None:
    beside = max(abs(scale.beside_mm) for scale in plan.protractors)
    if beside > MOST_BESIDE_MM:
        problem = f"the wheel's outer side stands {beside:.0f} mm from its kingpin, too far for a template"
        remedy = f"at most {MOST_BESIDE_MM:g} mm; measure both tracks and the kingpin's lean again"
        raise InputError(source, "car.kingpin_track_mm", problem, remedy)


def template_report(result: TemplateResult) -> list[Any]:
    """What `template` prints.  result : of `template_result`."""
    kind = KINDS[result.linkage]
    first = "set-up with rods to set" if kind.rods else "turntable axle" if kind.axle else "set-up, since none has rods or a turntable"
    chosen = "" if result.setup_named else f" (the first {first}; --setup chooses another)"
    placing = result.placing
    lines: list[Any] = [Text(result.title, style="bold"), Text(f"Set-up: {result.setup}{chosen}.")]
    lines.append(Text(f"Written to {result.written}: {result.pages} pages, {result.paper}."))
    lines += map(Text, danger_lines(result.dangers))
    lines.append(Text('Print at 100 % ("actual size", not "fit to page") and measure the 100 mm lines before you trust a sheet.'))
    lines += [Text(""), Text("Target pairs in degrees, positive to the left. The error is the planned inner angle less the ideal one.")]
    lines.append(_pair_table(result.pairs) if result.pairs else Text("There are none: the steering locks before 5 degrees."))
    missing = [[f"{one.outer_deg:g}" for one in result.without_pair if one.turn == turn] for turn in ("left", "right")]
    alike = missing[0] == missing[1]
    for where, outer in zip(("either" if alike else "a left", "a right"), missing[:1] if alike else missing, strict=False):
        if outer:
            lines.append(Text(f"No pair in {where} turn for {', '.join(outer)} deg of the outer wheel: beyond the lock or the sheet."))
    lines += [Text(""), Text(_worksheet_line(result))]
    distances = f"{placing.to_rear_tyre_mm:.0f} mm to the rear tyre on its side, {placing.diagonal_mm:.0f} mm to the other"
    if KINDS[result.linkage].axle:
        where = f"Pivot of the sheet: {placing.to_rear_tyre_mm:.0f} mm from the middle of either rear tyre."
    else:
        where = f"Kingpins of the sheets: {placing.pivots_apart_mm:.0f} mm apart, each {distances}."
    lines += [Text(where), Text(CAUTIONS[-1].replace("This list helps you look. It", "The template"))]
    return lines


def _worksheet_line(result: TemplateResult) -> str:
    sheet = result.worksheet
    if not KINDS[result.linkage].rods:
        return f"The worksheet has {sheet.rows} rows, to compare with the plan; `bench` has no rods to fit here."
    dial = "" if result.dial_page is None else f" Page {result.dial_page} is a dial for the hand wheel, to cut out."
    return (
        f"The worksheet asks for the {sheet.rows} lines of the {sheet.plan} plan, about {sheet.minutes:.0f} minutes. "
        f"Type them in with `bench --type`.{dial}"
    )


def _pair_table(pairs: Sequence[PairFigures]) -> Table:
    table = Table(box=None, pad_edge=False, header_style="bold", collapse_padding=True, padding=(0, 2, 0, 0))
    for heading in ("letter", "turn"):
        table.add_column(heading)
    for heading in ("hand", "outer", "inner", "ideal inner", "error"):
        table.add_column(heading, justify="right", no_wrap=True)
    for pair in pairs:
        figures = (pair.hand_deg, pair.outer_deg, pair.inner_deg, pair.ideal_inner_deg, pair.error_deg)
        table.add_row(pair.letter, pair.turn, *(f"{round(value, 2) + 0.0:.2f}" for value in figures))
    return table
