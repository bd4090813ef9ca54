"""What `knock` prints without --explain."""

from typing import Any

from sim.study.knock import KnockResult
from viz.knock.report import WARNING, finding, grip_words
from viz.shared.brief import TO_DO, Rows, brief
from viz.shared.dangers import own_stops_line, stop_heading, stop_words, whose_words

NEXT = "`scrubwise angles SCENARIO --checks` adds the list of what to look at before anybody drives."


def knock_brief(result: KnockResult, written: str) -> list[Any]:
    """A kick in one screen.  written : the plot."""
    stops = [stop_words(setup) for setup in result.setups]
    columns = [("set-up", "left"), ("at the\nhands N m", "right"), ("hand wheel\nkicks deg", "right"), ("off line\nafter 1 s m", "right")]
    columns += [("tips at\nm/s2", "right")] + ([(stop_heading(result.setups), "right")] if any(stops) else [])
    rows = [
        [
            setup.name, f"{setup.hand_torque_N_m:.1f}", f"{setup.peak_hand_deg:.1f}", f"{setup.off_line_after_1_s_m:.2f}",
            f"{min(row.tip_m_per_s2 for row in setup.tip_margin):.1f}", *([stop] if any(stops) else []),
        ]
        for setup, stop in zip(result.setups, stops, strict=True)
    ]  # fmt: skip
    danger = [
        'Danger: past the angle under "stop" a rod and its arm soon come in line; the steering can snap over or jam. Fit a stop before.'
        + whose_words([(setup.name, setup) for setup in result.setups])
        + own_stops_line([(setup.name, setup) for setup in result.setups])
    ]
    told = [
        finding(result), f"One front wheel meets a step of {result.step_mm:g} mm; the kick is at {result.speed_m_per_s:g} m/s.",
        *(danger if any(stops) else []),
    ]  # fmt: skip
    doubt = "Doubt: a worst case, for the wheel is taken as rigid; hands and wheel mass are judgements."
    rest = "lever arms, when a wheel lifts, every steer"
    return brief(result.title, [*told, grip_words(result)], (), Rows(columns, rows), [WARNING, doubt, TO_DO + NEXT], rest, (written,))
