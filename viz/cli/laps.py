"""Commands that drive: `run` and `corner`."""

from functools import partial
from pathlib import Path
from typing import Annotated

import typer

from sim.errors import InputError
from viz.cli.shell import Explain, Json, ScenarioName, announce_first_use, check_turn, load, patience, print_json, print_report, progress
from viz.shared.files import write_file
from viz.shared.plain import plain

RUN_EPILOG = (
    "The run folder holds the tables, a 50 Hz trace of each set-up for spreadsheets, the plots, the scenario and report.html, a page for "
    "any browser."
)


def run(
    scenario: ScenarioName,
    out: Annotated[Path | None, typer.Option("--out", metavar="DIR", help="The run folder. Left out: NAME-run in this folder; "
                                             "with --json, none.")] = None,
    model: Annotated[str, typer.Option("--model", metavar="RUNG", help="Rung of the ladder of models: rolling-bicycle, slipping-bicycle, "
                                       "rolling-four-wheels or slipping-four-wheels.")] = "slipping-four-wheels",
    paces: Annotated[bool, typer.Option("--paces", help="Drive the first set-up also by every pace policy in the same lap time.")] = False,
    explain: Explain = False,
    as_json: Json = False,
) -> None:  # fmt: skip
    """Lap every set-up, print the comparison and write the run folder: the main job."""
    from sim.lap.ladder import Model
    from sim.store.run_folder import check_target
    from sim.study.compare import compare, compare_paces
    from sim.study.summary import pace_summary, summary

    loaded, path = load(scenario, doubts=False)
    labels = {rung.label.replace(" ", "-"): rung for rung in Model}
    if model not in labels:
        raise InputError("--model", "", f"{model!r} is no rung of the ladder", f"choose one of {', '.join(labels)}")
    folder = out if out is not None else None if as_json else Path(f"{path.stem}-run")
    if folder is not None:
        check_target(folder)
    with progress("driving", as_json) as tell:
        comparison = compare(loaded, path.parent, scenario, labels[model], tell)
        ways = compare_paces(loaded, scenario, comparison, tell) if paces else []
    if folder is not None:
        from viz.report.page import write_report
        from viz.run.folder import write_run

        write_run(comparison, path.parent, folder, write_report)
    if as_json:
        told = plain(summary(comparison))
        print_json(told | {"paces": pace_summary(ways, comparison.course.length)} if paces else told)
        return
    from viz.run.brief import run_brief
    from viz.run.report import pace_report, run_report
    from viz.shared.brief import ending

    short = run_brief(comparison, folder)
    report = [*run_report(comparison, folder), *ending(short)] if explain else short
    print_report(report + (pace_report(pace_summary(ways, comparison.course.length), loaded.setup[0].name) if paces else []))


def corner(
    scenario: ScenarioName,
    radius: Annotated[float, typer.Option("--radius", metavar="M", help="Radius of the mass centre's path in metres; positive to "
                                          "the left.")],
    speed: Annotated[float, typer.Option("--speed", metavar="M_PER_S", help="Speed of the mass centre in metres per second.")],
    setup: Annotated[list[str] | None, typer.Option("--setup", metavar="NAME", help="A set-up to show, by name, number or the name's "
                                                    "beginning; may be repeated. Left out: all.")] = None,
    ladder: Annotated[bool, typer.Option("--ladder", help="Show the same turn on every rung of the ladder of models.")] = False,
    map_plot: Annotated[Path | None, typer.Option("--map", metavar="FILE.png", help="Draw the turns of many radii and speeds around this "
                                                  "one: how much more each set-up needs than the best of all, where it slides or "
                                                  "tips.")] = None,
    map_csv: Annotated[Path | None, typer.Option("--map-csv", metavar="FILE.csv", help="The same map as a table.")] = None,
    explain: Explain = False,
    as_json: Json = False,
) -> None:  # fmt: skip
    """One steady turn with every set-up; --explain shows it wheel by wheel."""
    from sim.scenario.choice import chosen_setup
    from sim.study.corner import corner_result
    from sim.study.ready import car_of, entries_of

    loaded, _ = load(scenario)
    check_turn(radius, speed)
    entries = entries_of(loaded, scenario)
    names = [entry.name for entry in entries]
    chosen = sorted({chosen_setup(names, one, scenario) for one in setup or ()}) or list(range(len(names)))
    announce_first_use("steady.find_turn")
    result = corner_result(loaded, [entries[place] for place in chosen], radius, speed, ladder)
    told, limits, written = plain(result), None, list[str]()
    if map_plot is not None or map_csv is not None:
        from sim.study.maps import make_maps, map_result
        from viz.corner.map import write_map_csv, write_map_plot

        with patience("Working out the turns of the map", "about 10 seconds", as_json):
            made = make_maps(loaded, entries, radius, speed, chosen)
            limits = map_result(made)
            told["map"] = limits
            for path, suffix, write_map in ((map_plot, ".png", write_map_plot), (map_csv, ".csv", write_map_csv)):
                if path is not None:
                    write_file(path, suffix, partial(write_map, made))
                    written.append(str(path))
    if as_json:
        print_json(told)
        return
    from viz.corner.brief import corner_brief, finding, warnings

    car = car_of(loaded)
    short = corner_brief(result, car, limits, written)
    if not explain:
        print_report(short)
        return
    from viz.corner.map import map_report
    from viz.corner.report import corner_report
    from viz.shared.brief import ending

    lines = [] if limits is None else ["", *map_report(limits)]
    told = corner_report(result, [finding(result), *warnings(result, car)])
    print_report([*told, *lines, *(f"Written to {path}" for path in written), *ending(short)])
