"""Commands that look again and further: `watch`, and `search`, `spread` and `contest`, which drive many laps."""

import os
import shlex
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from sim.errors import InputError
from viz.cli.shell import LOCK_STEP, Explain, Json, ScenarioName, load, print_json, print_report, progress, quoted, write
from viz.shared.files import check_suffix, refuse_written_by_others, write_file, write_fragment

if TYPE_CHECKING:
    from sim.study.workers import Workers

WorkerCount = Annotated[int | None, typer.Option("--workers", metavar="N", help="Threads of this machine that drive laps; left out: one "
                                                 "a core. The figures do not depend on it.")]  # fmt: skip
Cluster = Annotated[str | None, typer.Option("--cluster", metavar="ADDRESS", help="Scheduler of a running Dask cluster, such as "
                                             "tcp://127.0.0.1:8786; instead of --workers.")]  # fmt: skip
Resume = Annotated[Path | None, typer.Option("--resume", metavar="DIR", help="Folder in which what is done is kept, and from which an "
                                             "interrupted study goes on.")]  # fmt: skip
Seed = Annotated[int, typer.Option("--seed", metavar="N", help="Start of the random numbers: the same seed gives the same answer.")]


def search(
    scenario: ScenarioName,
    setup: Annotated[str | None, typer.Option("--setup", metavar="NAME", help="The set-up to better, by name, number or the name's "
                                              "beginning; left out: the first that has rods.")] = None,
    free: Annotated[list[str] | None, typer.Option("--free", metavar="KEY=LOW:HIGH", help="A key to choose within bounds; may be "
                                                   "repeated. Left out: the arms and rods of the linkage.")] = None,
    objective: Annotated[list[str] | None, typer.Option("--objective", metavar="NAME", help="drive-work, battery, scrub, rub or error; "
                                                        "two of them give the trade-off between the two.")] = None,
    limit: Annotated[list[str] | None, typer.Option("--limit", metavar="NAME=VALUE", help="turning_circle_m, kick_back_mm, longest_rod_mm "
                                                    "(at most), lock_deg (the wheels' lock, as one wheel in the middle would stand), "
                                                    "rod_angle_deg or shortest_rod_mm (at least); may be repeated.")] = None,
    made_to: Annotated[float | None, typer.Option("--made-to", metavar="N", help="How exactly parts can be made, in degrees or mm: it goes "
                                                  "into the range of the gain.")] = None,
    fragment: Annotated[Path | None, typer.Option("--fragment", metavar="FILE.toml", help="Write the best set-up, or the smaller "
                                                  "change, as a piece of a scenario.")] = None,
    plot: Annotated[Path | None, typer.Option("--plot", metavar="FILE.png", help="Also draw the valley that each key makes, and of two "
                                              "objectives the trade-off.")] = None,
    workers: WorkerCount = None,
    cluster: Cluster = None,
    resume: Resume = None,
    seed: Seed = 0,
    explain: Explain = False,
    as_json: Json = False,
) -> None:  # fmt: skip
    """The best arms, rods and toe for this course within bounds, and whether the gain is worth it."""
    from sim.search.run import search as find_best
    from viz.search.brief import search_brief
    from viz.search.numbers import parse_free, parse_limits, parse_objectives, search_fragment, search_result
    from viz.search.report import search_report
    from viz.shared.brief import ending

    loaded, path = load(scenario)
    if fragment is not None:
        refuse_written_by_others(fragment)  # before minutes of work
    chosen, wanted, limits = parse_free(free or []), parse_objectives(objective or []), parse_limits(limit or [])
    with crew(workers, cluster) as who, progress("searching", as_json) as tell:
        found = find_best(
            loaded, path.parent, scenario, setup=setup, free=chosen, objectives=wanted, limits=limits, made_to=made_to, workers=who,
            store=resume, seed=seed, progress=tell,
        )  # fmt: skip
    if fragment is not None:
        write_fragment(fragment, search_fragment(found, (found.less_change or found.best).setup))
    if plot is not None:
        from viz.search.plot import write_search_plot

        write_file(plot, ".png", lambda made: write_search_plot(found, made))
    if as_json:
        print_json(search_result(found))
        return
    written = [str(one) for one in (fragment, plot) if one is not None]
    short = search_brief(found, written, loaded.car)
    if explain:
        print_report([*search_report(found, loaded.car), *(f"Written to {one}" for one in written), *ending(short)])
    else:
        print_report(short)


def spread(
    scenario: ScenarioName,
    samples: Annotated[int, typer.Option("--samples", metavar="N", help="How often the unsure numbers are tried out, a power of two: 256 "
                                            "is usual, 1024 is finer.")] = 256,
    literature: Annotated[bool, typer.Option("--literature", help="Let tyre and drag figures without a stated uncertainty range as "
                                             "widely as the literature has them, and the tyre's law be either.")] = False,
    sobol: Annotated[bool, typer.Option("--sobol", help="Find what matters most with as many laps again for each unsure number and "
                                        "once more; so numbers that act together are seen.")] = False,
    against: Annotated[str | None, typer.Option("--against", metavar="NAME", help="Compare all with this set-up, by name, number or the "
                                                "name's beginning; left out: with the best.")] = None,
    plot: Annotated[Path | None, typer.Option("--plot", metavar="FILE.png", help="Also draw the differences with their intervals, and what "
                                              "decides them.")] = None,
    workers: WorkerCount = None,
    cluster: Cluster = None,
    resume: Resume = None,
    seed: Seed = 0,
    explain: Explain = False,
    as_json: Json = False,
) -> None:  # fmt: skip
    """How sure the comparison is, whether two set-ups can be told apart, and which unsure number decides it."""
    from sim.spread.run import spread as study

    loaded, path = load(scenario)
    with crew(workers, cluster) as who, progress("driving", as_json, LOCK_STEP) as tell:
        found = study(
            loaded, path.parent, scenario, samples=samples, seed=seed, literature=literature, sobol=sobol, against=against, workers=who,
            store=resume, progress=tell,
        )  # fmt: skip
    if plot is not None:
        from viz.spread.plot import write_spread_plot

        write_file(plot, ".png", lambda made: write_spread_plot(found, made))
    if as_json:
        from viz.spread.numbers import spread_result

        print_json(spread_result(found))
        return
    from viz.shared.brief import ending
    from viz.spread.brief import spread_brief
    from viz.spread.report import spread_report

    written = [str(plot)] if plot is not None else []
    short = spread_brief(found, written)
    print_report([*spread_report(found), *(f"Written to {one}" for one in written), *ending(short)] if explain else short)


def contest(
    folder: Annotated[str | None, typer.Argument(metavar="FOLDER", show_default=False, help="A folder with rules.toml and one entry file a "
                                                 "team, or the name of a shipped one; left out with --copy.")] = None,
    copy: Annotated[Path | None, typer.Option("--copy", metavar="NEW", help="Begin a contest of your own: write the rules and entries of "
                                              "class-contest into a new folder, and run nothing.")] = None,
    out: Annotated[Path | None, typer.Option("--out", metavar="DIR", help="The run folder with the class's pages. Left out: NAME-contest "
                                             "in this folder; with --json, none.")] = None,
    replay: Annotated[list[str] | None, typer.Option("--replay", metavar="TEAM", help="A team whose lap can be replayed too: its name, its "
                                                     "row in the table, or a beginning of its own (may be repeated). Always there: the "
                                                     "winner, the last and the one that teaches most.")] = None,
    workers: WorkerCount = None,
    explain: Explain = False,
    as_json: Json = False,
) -> None:  # fmt: skip
    """Run a class's entries under one set of rules and rank them."""
    if copy is not None:
        given = {"FOLDER": folder, "--out": out, "--replay": replay}
        _copied(copy, [name for name, value in given.items() if value], as_json)
        return
    if folder is None:
        raise InputError("contest", "FOLDER", "no folder is named", "name one, or begin your own: scrubwise contest --copy our-contest")
    from sim.contest.rules import find_contest
    from sim.contest.run import contest_result
    from sim.store.run_folder import check_target
    from viz.contest.brief import contest_brief
    from viz.contest.report import contest_report, write_contest
    from viz.shared.brief import ending

    path, threads = find_contest(folder), crew(workers, None).threads
    target = out if out is not None else None if as_json else Path(f"{path.resolve().name}-contest")
    if target is not None:
        check_target(target)
    with progress("driving", as_json) as tell:
        result, comparison = contest_result(path, threads, lambda done, of: tell(done, of, "entries"), replay or ())
    if target is not None:
        from viz.report.page import write_report

        write_contest(result, comparison, path, target, write_report)
    if as_json:
        print_json(result)
        return
    short = contest_brief(result, str(target))
    print_report([*contest_report(result), f"Written to {target}", *ending(short)] if explain else short)


def _copied(new: Path, beside: list[str], as_json: bool) -> None:
    """Write the shipped contest for a class to change.  new : the folder; beside : what else was named, which a copy has no use for."""
    from viz.contest.copy import copy_contest

    if beside:
        raise InputError("--copy", "", "it writes files and runs nothing", f"leave {beside[0]} out")
    files = copy_contest(new)
    if as_json:
        print_json({"written": str(new), "files": files})
        return
    print_report(
        [f"Written to {new}: {', '.join(files)}", "What to do: change rules.toml, delete the entries that you don't want, then type:"]
    )
    write(f"scrubwise contest {shlex.quote(str(new))}\n")  # whole, however wide the terminal, so that it can be copied


def report(
    run: Annotated[Path, typer.Argument(metavar="RUN", help="A run folder.")],
    out: Annotated[Path, typer.Option("--out", metavar="FILE.html", help="The page to write or replace.")],
    classroom: Annotated[bool, typer.Option("--class", help="Write a handout of two printed sides with three questions instead, and "
                                            "its answers into FILE-answers.html.")] = False,
    as_json: Json = False,
) -> None:  # fmt: skip
    """The page of a run: one offline file for any browser; with --class a handout and its answers."""
    from viz.report.again import driven_again, undriven
    from viz.report.words import finding_line, to_do_lines

    if out.resolve().is_relative_to(run.resolve()):
        raise InputError("--out", "", f"{out} lies in the run folder, which holds what a run wrote and nothing else", "write it beside it")
    check_suffix(out, ".html")
    with progress("driving", as_json) as tell:
        comparison, notes = driven_again(run, tell, f"scrubwise report {{run}}{' --class' * classroom} --out {quoted(out)}")
    if classroom:
        from viz.report.classroom import class_pages

        pages = dict(zip((out, out.with_name(f"{out.stem}-answers{out.suffix}")), class_pages(comparison, undriven(run)), strict=True))
    else:
        from viz.report.page import report_page

        pages = {out: report_page(comparison, notes)}
    for path, text in pages.items():
        write_file(path, ".html", partial(write_text, text))
    found, todo = finding_line(comparison), to_do_lines(comparison)
    if as_json:
        print_json({"written": [str(path) for path in pages], "finding": found, "what_to_do": todo, "notes": notes})
        return
    print_report([found, *notes, *(f"Written to {path}" for path in pages), f"What to do: open {out} in a browser, or print it."])


def write_text(text: str, path: Path) -> None:
    """Write a text that is a page.  text : the page; path : to write."""
    path.write_text(text, encoding="utf-8", newline="\n")


def crew(threads: int | None, cluster: str | None) -> "Workers":
    """Who drives the laps.  Raises InputError for a number of threads out of bounds, and for a cluster that does not answer."""
    from sim.study.workers import Cluster, Workers

    if cluster is not None:
        if threads is not None:
            raise InputError("--workers", "", "the workers of a cluster are its own", "leave out --workers or --cluster")
        return Workers(cluster=Cluster(cluster))
    if threads is None:
        threads = len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count() or 1
    elif not 1 <= threads <= 256:
        raise InputError("--workers", "", f"{threads} is not between 1 and 256", "give a number of threads, such as 2")
    return Workers(threads)


def watch(
    run: Annotated[Path, typer.Argument(metavar="RUN", help="A run folder.")],
    export: Annotated[Path | None, typer.Option("--export", metavar="FILE", help="Write a picture (.png) or a film (.gif, .mp4) instead of "
                                                "opening a window; needs no screen.")] = None,
    at: Annotated[float | None, typer.Option("--at", metavar="M", help="Where along the lap a picture is taken, in metres.")] = None,
    place: Annotated[int | None, typer.Option("--place", metavar="N", help="Number of a place, as on the strip below the replay, at which "
                                              "a picture is taken, or around which a film lies; 1 is the story's.")] = None,
    begin: Annotated[float | None, typer.Option("--from", metavar="M", help="Where a film begins, in metres.")] = None,
    end: Annotated[float | None, typer.Option("--to", metavar="M", help="Where a film ends, in metres.")] = None,
    setup: Annotated[list[str] | None, typer.Option("--setup", metavar="NAME", help="A set-up to show, by name, number or the name's "
                                                    "beginning; may be repeated up to four times; the first two are large.")] = None,
    bench: Annotated[bool, typer.Option("--bench", help="Begin with the steering bench: turn, drag and see. With --export "
                                                "a picture of it, or a film in which the hand wheel turns.")] = False,
    story: Annotated[Path | None, typer.Option("--story", metavar="FILE", help="Write the story that the window opens with as a film "
                                               "(.mp4 or .gif); needs no screen.")] = None,
    size: Annotated[str | None, typer.Option("--size", metavar="WxH", help="Size of the picture, film or window in pixels, such as "
                                             "1920x1080.")] = None,
    speed: Annotated[float | None, typer.Option("--speed", metavar="X", help="Of a film; 1 is as fast as it was driven.")] = None,
    text: Annotated[float, typer.Option("--text", metavar="X", help="Size of the letters, 1 to 2 times the usual.",
                                         show_default=False)] = 1.0,
    as_json: Json = False,
) -> None:  # fmt: skip
    """Replay window; with --export a picture or a film without a screen."""
    from viz.replay.export import SIZE, check_look, size_from

    pixels = None if size is None else size_from(size)
    check_look(1.0 if speed is None else speed, pixels or SIZE, text)
    if export is None and story is None:
        if as_json:
            raise InputError("--json", "", "a window prints nothing", "add --export FILE or --story FILE, or leave --json out")
        for name, where in (("--at", at), ("--place", place), ("--from", begin), ("--to", end)):
            if where is not None:
                raise InputError(name, "", "a window goes to any place", f"add --export FILE, or leave {name} out")
        if speed is not None:
            raise InputError("--speed", "", "a window has keys for its speed", "add --export FILE or --story FILE, or leave --speed out")
        from viz.replay.window import watch as open_window

        open_window(run, bench, setup, pixels, text)
        return
    if story is not None:
        for name, given in (("--export", export), ("--at", at), ("--place", place), ("--from", begin), ("--to", end),
                            ("--bench", bench or None)):  # fmt: skip
            if given is not None:
                raise InputError(name, "", "a story chooses its own places and file", f"leave {name} or --story out")
    from viz.replay.export import export as write_pictures
    from viz.replay.export import export_story

    pace, told = 1.0 if speed is None else speed, dict[str, object]()
    if story is not None:
        export_story(run, story, setup, pace, pixels or SIZE, text)
    elif bench and export is not None:
        for name, where in (("--at", at), ("--place", place), ("--from", begin), ("--to", end)):
            if where is not None:
                raise InputError(name, "", "the steering bench stands still", f"leave {name} or --bench out")
        from viz.replay.bench.export import export_bench

        export_bench(run, export, setup, pace, pixels or SIZE, text)
    elif export is not None:
        for name, where in (("--at", at), ("--from", begin), ("--to", end)):
            if place is not None and where is not None:
                raise InputError("--place", "", f"it says where, and {name} does too", f"leave --place or {name} out")
        places = write_pictures(run, export, at, begin, end, setup, pace, pixels or SIZE, text, 1 if place is None else place)
        told["places"] = [{"station_m": station, "power_W": power} for station, power in places]
    written = story or export
    if as_json:
        print_json({"written": str(written), **told})
    else:
        print_report([f"Written to {written}"])
