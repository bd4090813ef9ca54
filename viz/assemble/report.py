"""What `assemble` prints."""

from typing import Any

from rich.text import Text

from sim.assemble.figures import AssembleResult
from sim.linkages.catalogue import KINDS
from viz.assemble.words import BINDS, free_stops, pull_words, turns_words
from viz.shared.checks import CAUTIONS
from viz.shared.dangers import danger_lines


def assemble_report(result: AssembleResult) -> list[Any]:
    """The plain output: what was written, and the figures that a builder sets.  result : of `assemble_result`."""
    kind, loaded, hanging = KINDS[result.linkage], result.pull_on_wheels, result.pull_on_stands
    first = "with rods to set" if kind.rods else "turntable axle" if kind.axle else "set-up, since none has rods or a turntable"
    chosen = "" if result.setup_named else f" (the first {first}; --setup chooses another)"
    lines = [f"Set-up: {result.setup}{chosen}."]
    lines.append(f"Written to {result.written}: {result.pages} sheets, {result.paper}; any scale of printing will do.")
    if result.rods:
        lengths = ", ".join(f"{rod.name} {rod.length_mm:.1f} mm" for rod in result.rods)
        lines.append(f"Rods from the middle of one eye to that of the other: {lengths}. Lock nuts: {result.lock_nuts}, with two spanners.")
        lines.append(" ".join(turns_words(result)))
    elif not kind.axle:
        lines.append(f'"{result.linkage}" is a rule for angles and has no rods: the sheets tell the order of work without their lengths.')
    lines += danger_lines(result) or [f"Fit stops at the {'axle' if kind.axle else result.hand_is}: {free_stops(result)}."]
    where = "at one wheel's hub, along the car" if kind.axle else "at the tyre's foremost point, as high as the hub"
    lines.append(
        f"Pull that just turns {'the axle' if kind.axle else 'a wheel'} ({where}), on turn plates with the driver seated: "
        f"{pull_words(loaded)}; on stands {hanging.greased_N:.1f} N. "
        f"Above {BINDS:g} times the dry figure it binds (judgement)."
    )  # fmt: skip
    if result.rods:
        lines.append("What to do: build by the sheets, then ask `scrubwise bench` with --plan quick what to measure.")
    lines += [CAUTIONS[0], f"{CAUTIONS[2]} {CAUTIONS[3].replace('this list', 'these sheets')} Scrubwise never certifies a car as safe."]
    return [Text(result.title, style="bold"), *map(Text, lines)]
