"""Commands that go with the car to the floor: `angles`, `assemble`, `template`, `bench`, `knock`, `coast`."""

from functools import partial
from pathlib import Path
from typing import Annotated

import typer

from sim.errors import InputError
from viz.cli.shell import (
    Explain,
    Json,
    ScenarioName,
    announce_first_use,
    ask,
    check_turn,
    doubt_built,
    load,
    numbers,
    patience,
    print_json,
    print_report,
    tell,
)  # fmt: skip
from viz.shared.checks import checks_report, checks_result
from viz.shared.files import write_file, write_fragment
from viz.shared.plain import plain

DEFAULT_PLAN = "quick"


def angles(
    scenario: ScenarioName,
    setup: Annotated[list[str] | None, typer.Option("--setup", metavar="NAME", help="A set-up to show with its table, by name, number or "
                                                    "the name's beginning; may be repeated. Left out: all side by side.")] = None,
    outer: Annotated[str | None, typer.Option("--outer", metavar="DEG[,DEG...]", help="Rows at these angles of the outer wheel in "
                                              "a left turn, instead of the hand wheel's range.")] = None,
    radius: Annotated[float, typer.Option("--radius", metavar="M", help="Radius of the turn whose hand torque is given, in metres.")] = 8.0,
    speed: Annotated[float, typer.Option("--speed", metavar="M_PER_S", help="Speed of that turn in metres per second.")] = 3.0,
    checks: Annotated[bool, typer.Option("--checks", help="Add the list of checks before anybody drives.")] = False,
    explain: Explain = False,
    as_json: Json = False,
) -> None:  # fmt: skip
    """Wheel angles over the hand wheel's range, error against ideal, turning circles, lock and hand torque."""
    from sim.scenario.choice import chosen_setup, first_built
    from sim.study.angles import angles_result
    from sim.study.ready import entries_of

    loaded, _ = load(scenario, doubts=False)
    check_turn(radius, speed)
    rows = numbers(outer, "--outer", 0.0, 89.0) if outer is not None else None
    entries = entries_of(loaded, scenario)
    if setup:
        names = [entry.name for entry in entries]
        entries = [entries[place] for place in dict.fromkeys(chosen_setup(names, one, scenario) for one in setup)]
    announce_first_use("steady.find_turn")
    result = angles_result(loaded, entries, rows, radius, speed)
    kinds = [entry.steering.kind for entry in entries]
    built = first_built(kinds)
    axle = kinds[built].axle
    if as_json:
        print_json(plain(result) | (checks_result(axle, result.setups[built].name, result.setups[built]) if checks else {}))
        return
    from viz.angles.brief import angles_brief
    from viz.angles.report import angles_report
    from viz.shared.brief import ending
    from viz.shared.dangers import check_words

    short = angles_brief(result, outer is not None, bool(setup))
    report = [*angles_report(result), *ending(short)] if explain else short
    told = partial(check_words, setup=result.setups[built], who=f'"{result.setups[built].name}" ' if len(entries) > 1 else "")
    print_report(report + (checks_report(axle, told) if checks else []))


def knock(
    scenario: ScenarioName,
    step: Annotated[float, typer.Option("--step", metavar="MM", help="Height of the step that one wheel meets, in millimetres.")] = 20.0,
    speed: Annotated[float, typer.Option("--speed", metavar="M_PER_S", help="Speed at which it meets it, in metres per second.")] = 3.0,
    out: Annotated[Path | None, typer.Option("--out", metavar="FILE.png", help="The plot. Left out: NAME-knock.png in this folder; with "
                                             "--json, none.")] = None,
    explain: Explain = False,
    as_json: Json = False,
) -> None:  # fmt: skip
    """Kick-back lever arms, hand torque over a step, tip margin."""
    from sim.study.knock import knock_result
    from viz.knock.brief import knock_brief
    from viz.knock.report import knock_report, write_knock_plot
    from viz.shared.brief import ending

    loaded, path = load(scenario)
    radius = loaded.car.wheel_radius_mm
    if not 0 < step <= 0.5 * radius:
        problem = f"{step:g} is not between 0 and half the wheel radius ({0.5 * radius:g})"
        raise InputError("--step", "", problem, "give the step in millimetres")
    if not 0.1 <= speed <= 20:
        raise InputError("--speed", "", f"{speed:g} is not between 0.1 and 20", "give the speed in metres per second")
    plot = out if out is not None else None if as_json else Path(f"{path.stem}-knock.png")
    with patience("Working out the kick and drawing it", "about 4 seconds", as_json):
        result = knock_result(loaded, scenario, step, speed)
        if plot is not None:
            write_file(plot, ".png", lambda made: write_knock_plot(result, made))
    if as_json:
        print_json(result)
    else:
        short = knock_brief(result, str(plot))
        print_report([*knock_report(result), f"Written to {plot}", *ending(short)] if explain else short)


def template(
    scenario: ScenarioName,
    out: Annotated[Path, typer.Option("--out", metavar="FILE.pdf", help="The PDF to write or replace.")],
    setup: Annotated[str | None, typer.Option("--setup", metavar="NAME", help="The set-up, by name, number or the name's "
                                               "beginning; left out: the first with rods to set, else the first turntable.")] = None,
    paper: Annotated[str, typer.Option("--paper", metavar="SIZE", help="a4, letter or a3.")] = "a4",
    plan: Annotated[str, typer.Option("--plan", metavar="PLAN", help="The readings that the worksheet asks for, as of bench: quick (about "
                                      "ten minutes) or full.")] = DEFAULT_PLAN,
    as_json: Json = False,
) -> None:  # fmt: skip
    """True-size floor protractors and hand-wheel dial with this car's targets, and a sheet for the readings."""
    from viz.template.numbers import template_report, template_result

    loaded, _ = load(scenario, doubts=False)
    with patience("Drawing the sheets", "about 5 seconds", as_json):
        result = template_result(loaded, scenario, setup, out, paper, plan)
    doubt_built(loaded, scenario, result.setup)
    if as_json:
        print_json(result)
    else:
        print_report(template_report(result))


def assemble(
    scenario: ScenarioName,
    out: Annotated[Path, typer.Option("--out", metavar="FILE.pdf", help="The PDF to write or replace.")],
    setup: Annotated[str | None, typer.Option("--setup", metavar="NAME", help="The set-up, by name, number or the name's beginning; left "
                                               "out: the first with rods to set, else the first turntable.")] = None,
    paper: Annotated[str, typer.Option("--paper", metavar="SIZE", help="a4, letter or a3.")] = "a4",
    as_json: Json = False,
) -> None:  # fmt: skip
    """The order of work at the front end, with this car's rod lengths, turns, stops and pulls."""
    from viz.assemble.numbers import assemble_result
    from viz.assemble.report import assemble_report

    loaded, _ = load(scenario, doubts=False)
    with patience("Drawing the sheets", "about 3 seconds", as_json):
        result = assemble_result(loaded, scenario, setup, out, paper)
    doubt_built(loaded, scenario, result.setup)
    if as_json:
        print_json(result)
    else:
        print_report(assemble_report(result))


def bench(
    scenario: ScenarioName,
    readings: Annotated[list[str] | None, typer.Argument(metavar="READINGS.csv...", help="What was read: strings, tape, rods, threads, "
                                                         "wheel angles, in one table or several.")] = None,
    setup: Annotated[str | None, typer.Option("--setup", metavar="NAME", help="The set-up that was built, by name, number "
                                               "or the name's beginning; needed if several have rods.")] = None,
    plan: Annotated[str | None, typer.Option("--plan", metavar="PLAN", help="Before measuring: which readings to take, quick (about ten "
                                             "minutes) or full.")] = None,
    typed: Annotated[Path | None, typer.Option("--type", metavar="FILE.csv", help="Type the readings in, a line each, as the quick plan or "
                                               "that of --plan asks for them; each is kept in this new file at once.")] = None,
    bootstrap: Annotated[bool, typer.Option("--bootstrap", help="Find the intervals by fitting made readings again.")] = False,
    explain: Explain = False,
    as_json: Json = False,
) -> None:  # fmt: skip
    """Fits what was measured at the wheels and rods; what to turn, and by how much."""
    from viz.bench.brief import bench_brief, plan_brief
    from viz.bench.numbers import bench_result, plan_result
    from viz.bench.report import bench_report, plan_report
    from viz.shared.brief import ending

    loaded, path = load(scenario, doubts=False)
    if typed is not None:
        from viz.bench.typed import type_readings

        type_readings(loaded, scenario, typed, plan or DEFAULT_PLAN, setup, ask, tell)
        readings = [*(readings or []), str(typed)]
    elif plan is not None:
        if readings:
            raise InputError("--plan", "", "a plan is made before anything is read", "leave the readings out, or --plan")
        with patience("Choosing the readings that tell most", "about 2 seconds", as_json):
            chosen = plan_result(loaded, scenario, plan, setup)
        doubt_built(loaded, scenario, chosen.setup)
        if as_json:
            print_json(chosen)
        else:
            short = plan_brief(chosen)
            print_report([*plan_report(chosen), *ending(short)] if explain else short)
        return
    if not readings:
        remedy = "name one, ask with --plan quick which readings to take, or type them in with --type"
        raise InputError("READINGS.csv", "", "no table of readings is named", remedy)
    about = "about 8 seconds" if bootstrap else "about 3 seconds"
    with patience("Fitting the readings", about, as_json):
        result = bench_result(loaded, scenario, readings, setup, bootstrap, path.parent)
    doubt_built(loaded, scenario, result.setup)
    if as_json:
        print_json(result)
    else:
        short = bench_brief(result)
        print_report([*bench_report(result), *ending(short)] if explain else short)


def coast(
    logs: Annotated[list[Path], typer.Argument(metavar="LOG.csv...", help="Logs of the car rolling out: time and speed, or GPX.")],
    mass: Annotated[float, typer.Option("--mass", metavar="KG", help="Mass of the car with its driver, in kilograms.")],
    back: Annotated[list[Path] | None, typer.Option("--back", metavar="LOG", help="A log of the same road driven the other way.")] = None,
    rotating_mass: Annotated[float | None, typer.Option("--rotating-mass", metavar="KG", help="Inertia of all wheels over their radius "
                                                        "squared; left out: not counted.")] = None,
    air_density: Annotated[float | None, typer.Option("--air-density", metavar="KG_PER_M3", help="Left out: 1.225.")] = None,
    circle_radius: Annotated[float | None, typer.Option("--circle-radius", metavar="M", help="The car coasted in a circle of this radius, "
                                                        "positive to the left; give --scenario too.")] = None,
    scenario: Annotated[str | None, typer.Option("--scenario", metavar="SCENARIO", help="What the circle's drag is compared with.")] = None,
    setup: Annotated[str | None, typer.Option("--setup", metavar="NAME", help="Only this set-up of the scenario, by name, "
                                               "number or the name's beginning.")] = None,
    fragment: Annotated[Path | None, typer.Option("--fragment", metavar="FILE.toml", help="Write the fitted values as a piece of a "
                                                  "scenario.")] = None,
    plot: Annotated[Path | None, typer.Option("--plot", metavar="FILE.png", help="Draw what the fit leaves over.")] = None,
    explain: Explain = False,
    as_json: Json = False,
) -> None:  # fmt: skip
    """Rolling coefficient and drag area from logs of a car that rolls out, with uncertainty."""
    from sim.coast.result import CoastResult, straight_coast
    from sim.scenario.file import file_or_shipped_table
    from viz.coast.brief import coast_brief
    from viz.coast.numbers import circle_coast_result, coast_fragment, write_coast_plot
    from viz.coast.report import coast_report
    from viz.shared.brief import ending
    from viz.shared.plain import plain

    logs, back = [file_or_shipped_table(log) for log in logs], [file_or_shipped_table(log) for log in back or []]
    if circle_radius is None:
        if scenario is not None or setup is not None:
            option = "--setup" if scenario is None else "--scenario"
            raise InputError(option, "", "a scenario and its set-ups go with a coast in a circle", "add --circle-radius, or leave it out")
        result: CoastResult = straight_coast(logs, back, mass, rotating_mass, air_density)
    else:
        if scenario is None:
            raise InputError("--circle-radius", "", "a circle's drag is compared with a scenario's set-ups", "add --scenario")
        if back:
            raise InputError("--back", "", "a circle has no way back", "give all its logs as LOG.csv")
        loaded, _ = load(scenario)
        result = circle_coast_result(
            logs, mass, circle_radius, loaded, scenario, setup, rotating_mass, air_density,
            modelling=partial(announce_first_use, "steady.find_turn"),
        )  # fmt: skip
    if fragment is not None:
        write_fragment(fragment, coast_fragment(result))
    if plot is not None:
        write_file(plot, ".png", lambda made: write_coast_plot(result, made))
    if as_json:
        print_json(plain(result))
        return
    written = [str(one) for one in (fragment, plot) if one is not None]
    short = coast_brief(result, written)
    print_report([*coast_report(result), *(f"Written to {one}" for one in written), *ending(short)] if explain else short)
