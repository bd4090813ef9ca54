"""Where a steering can snap over or jam, in words, alike in every command."""

from collections.abc import Mapping, Sequence
from math import floor

from sim.study.dangers import HAND_WHEEL, Dangers, RodLength, nearer
from viz.shared.checks import STOPS, Check

STOP_GROUND = "the least angle of rod and arm, least_rod_angle_deg, is a judgement"
TURNTABLE = (
    "A turntable axle tips earlier the further it is steered, and a step under one wheel tears at the hands: whatever its place here, it "
    "is for walking speed. See what `scrubwise knock` says of it."
)
ROUND_OFF = 1e-9  # of an angle that went to radians and back [tenths of a degree]
ALIKE = 0.5  # between a danger as planned and as read that nobody need be told apart: no stop is set finer.  Judgement. [deg]
MOST_NAMED = 2  # set-ups in one sentence; `angles` shows all


def rod_lines(rods: Sequence[RodLength]) -> list[str]:
    """Each rod's length, as a builder measures it; empty where there is none.  rods : of a set-up."""
    if not rods:
        return []
    lengths = ", ".join(f"{rod.name} {rod.length_mm:.1f} mm" for rod in rods)
    return [f"From the middle of one joint to that of the other: {lengths}."]


def danger_lines(setup: Dangers) -> list[str]:
    """Where the steering can snap over, and where to stop it before; empty where it cannot.  setup : whose dead centres."""
    if not stop_ends(setup):
        return []
    return [
        f"Danger: with the {setup.hand_is} at {_dead_words(setup)} a rod and its arm come in line; the steering can snap over or jam "
        f"there. Fit a stop before the {setup.hand_is} passes {ends_words(setup)}{before_words(setup)}."
    ]


def built_danger_lines(planned: Dangers, read: Dangers, bands: Mapping[str, float | None]) -> list[str]:
    """The same for a front end that was measured; what comes first is where the stop belongs.

    planned, read : dead centres of the set-up as it is planned, and with what was read of it
    bands : how far those as read may be off to either side, by side, None where that is not known [deg]
    """
    first, ends, seen = nearer(planned, read), *({side: dead for side, _, dead in stop_ends(one)} for one in (planned, read))
    if not seen:
        return [f"{line} As read, no rod and arm come in line." for line in danger_lines(first)]
    # What lies further off than planned, for sure, is no danger, and half a degree nobody sets a stop by.
    alike = ends.keys() == seen.keys()
    if alike and all((band := bands[side]) is not None and ends[side] - seen[side] + band < ALIKE for side in seen):
        return danger_lines(first)
    here = [f"{dead:.1f} {side}{'' if side in seen else ' (as read nowhere)'}" for side, dead in ends.items()]
    here += [f"nowhere {side}" for side in seen if side not in ends]
    planned_at = f"at {' and '.join(here)}" if ends else "nowhere"
    return [
        f"Danger: as read, rod and arm come in line and can snap over or jam with the {read.hand_is} at {_dead_words(read, bands)}; as "
        f"planned {planned_at}. Fit a stop before it passes {ends_words(first)}{before_words(first)}.{_late_words(first, seen, bands)}"
    ]


def _late_words(first: Dangers, seen: Mapping[str, float], bands: Mapping[str, float | None]) -> str:
    """A sentence about stops that may stand past the dead centre as read, for all that is known of it; empty where none may."""
    places = stop_places(first)
    late = [side for side, place in places if side in seen and seen[side] - (bands[side] or 0.0) < float(place)]
    where = "" if len(late) == len(places) else f" {late[0]}" if late else ""
    return f" That may be too late{where}: look at rod and arm there." if late else ""


def _dead_words(setup: Dangers, bands: Mapping[str, float | None] | None = None) -> str:
    """Where a rod and its arm come in line, which arm's, and how sure that is where somebody has read it."""
    arms = {"left": setup.dead_centre_left_arm, "right": setup.dead_centre_right_arm}

    def sure(side: str) -> str:
        if bands is None:
            return ""
        band = bands[side]
        return ", how sure is not known" if band is None else f", +- {band:.1f}"

    return " and ".join(f"{dead:.1f} deg {side} ({arms[side]} arm{sure(side)})" for side, _, dead in stop_ends(setup))


def stop_ends(setup: Dangers) -> list[tuple[str, str, float]]:
    """Sides on which a stop belongs, the hand angle before which it does, and the dead centre beyond.  setup : whose dead centres.

    Returns (side, angle rounded down, dead centre), both sizes [deg]; empty where no rod comes in line.
    """
    return [(side, _before(danger), abs(dead)) for side, _, danger, dead in _sides(setup)]


def stop_places(setup: Dangers) -> list[tuple[str, str]]:
    """The same sides with where a stop stands or belongs, for drawings: a stop of one's own before the danger, else that angle.

    setup : whose dead centres
    Returns (side, angle rounded down) [deg].
    """
    return [(side, _before(stop)) for side, stop, _, _ in _sides(setup)]


def _sides(setup: Dangers) -> list[tuple[str, float, float, float]]:
    """Side, stop, danger and dead centre of the sides that have one [deg]."""
    sides = (
        ("left", setup.stop_left_deg, setup.danger_left_deg, setup.dead_centre_left_deg),
        ("right", setup.stop_right_deg, setup.danger_right_deg, setup.dead_centre_right_deg),
    )
    return [(side, stop, stop if danger is None else danger, dead) for side, stop, danger, dead in sides
            if stop is not None and dead is not None]  # fmt: skip


def before_words(setup: Dangers) -> str:
    """A clause that says what already stops the hand wheel before the danger, and which stop of one's own stands too late for that; empty
    where there is neither.  setup : whose dead centres
    """
    sides, held = _sides(setup), _held(setup)
    if not held:
        return _past_words(setup)
    alike = len(held) == len(sides) and len({stop for _, stop in held}) == 1
    where = f"{held[0][1]} deg" if alike else " and ".join(f"{stop} deg {side}" for side, stop in held)
    it = "it" if len(held) == 1 else "them"
    held_by = f"your stop at {where} stands" if setup.stop_is_yours else f"this steering ends at {where},"
    return f"; {held_by} before {it}{_past_words(setup)}"


def short_before_words(setup: Dangers) -> str:
    """The same in fewer words, for the head of a sheet.  setup : whose dead centres."""
    if setup.own_stop_deg is None:
        return ""
    late = _past_words(setup)
    return f"; yours at {setup.own_stop_deg:.1f} is {'too late: move it' if late else 'before that'}"


def _past_words(setup: Dangers) -> str:
    """A clause about a stop of one's own behind the danger, the side on which that comes first; empty where there is none."""
    own = setup.own_stop_deg
    if own is None:
        return ""
    sides = _sides(setup)
    late = [(abs(danger), abs(dead), side) for side, _, danger, dead in sides if float(_before(own)) > float(_before(danger))]
    if not late:
        return ""
    danger, dead, side = min(late)
    where = f" {side}" if len(late) < len(sides) else ""
    beyond = f"{dead:.1f}{where}, where it snaps over" if own >= dead else f"{_before(danger)}{where}"
    return f"; your stop at {own:.1f} deg stands past {beyond}: move it before {_before(danger)}"


def stop_is_late(setup: Dangers) -> bool:
    """Whether a stop of one's own stands behind the danger.  setup : whose dead centres."""
    return bool(_past_words(setup))


def needs_stop(setup: Dangers) -> bool:
    """Whether there is a danger that nothing stands before yet, on one side at least.  setup : whose dead centres."""
    return len(_held(setup)) < len(_sides(setup))


def _held(setup: Dangers) -> list[tuple[str, str]]:
    """Sides on which something stops the hand wheel before the danger, and where [deg]."""
    return [(side, _before(stop)) for side, stop, danger, _ in _sides(setup) if _before(stop) != _before(danger)]


def ends_words(setup: Dangers) -> str:
    """The hand angles before which a stop belongs, as 55.9 deg left and 39.5 deg right; empty without one.  setup : whose dead centres."""
    return " and ".join(f"{stop} deg {side}" for side, stop, _ in stop_ends(setup))


def stop_line(setup: Dangers, who: str = "") -> str:
    """Where a stop belongs and why, in one sentence; empty where no rod comes in line.

    setup : whose dead centres; who : which set-up that is, in words, where there are several
    """
    ends, where = ends_words(setup), f" for {who}" if who else ""
    if not ends:
        return ""
    held = before_words(setup)
    why = "beyond it the steering can snap over or jam"
    return f"Danger:{where} fit a stop before the {setup.hand_is} passes {ends}; {why}{held}."


def short_stop_line(setup: Dangers, who: str) -> str:
    """The same for a screen that is full already; empty where no rod comes in line.  setup, who : as for `stop_line`."""
    ends = [f"{stop} {side}" for side, stop, _ in stop_ends(setup)]
    where = ", ".join(ends).replace(" ", " deg ", 1)
    return f"Danger: {who} can snap over; stop the {setup.hand_is} before {where}{before_words(setup)}." if ends else ""


def stops_line(setups: Sequence[tuple[str, Dangers]]) -> list[str]:
    """Where stops belong in several set-ups, in one sentence; empty where no rod comes in line.  setups : name and dead centres of each."""
    found = [(name, one) for name, one in setups if stop_ends(one)]
    if not found:
        return []
    turned = sorted({one.hand_is for _, one in found})
    which = f"the {turned[0]}" if len(turned) == 1 else "the hand wheel, or where none is modelled the left wheel,"
    shown = ", ".join(f'{ends_words(one)} ("{name}"{before_words(one)})' for name, one in found[:MOST_NAMED])
    left = len(found) - MOST_NAMED
    rest = f" and in {left} more set-up{'s' if left > 1 else ''} as `angles` tells" if left > 0 else ""
    return [
        f"Danger: fit a stop before {which} passes {shown}{rest}; beyond it a rod and its arm come in line, and the steering can "
        "snap over or jam."
    ]


def short_stops_line(setups: Sequence[tuple[str, Dangers]]) -> str:
    """The same in one line, for a screen that is full already; empty where no rod comes in line.  setups : as for `stops_line`."""
    found = [(name, one) for name, one in setups if stop_ends(one)]
    if not found:
        return ""
    if len(found) == 1:
        return short_stop_line(found[0][1], f'"{found[0][0]}"')
    return f"Danger: {len(found)} of these can snap over; fit stops (`scrubwise angles` says where)."


def own_stops_line(setups: Sequence[tuple[str, Dangers]]) -> str:
    """What already stops the hand wheel before the danger, below a table whose cells show the danger alone; empty where nothing does.

    setups : name and dead centres of each
    """
    held = [(name, before_words(one).removeprefix("; ")) for name, one in setups if before_words(one)]
    if not held:
        return ""
    told = "; ".join(f'"{name}": {words}' for name, words in held[:MOST_NAMED])
    return f" {told}{f'; and {len(held) - MOST_NAMED} more' if len(held) > MOST_NAMED else ''}."


def check_words(check: Check, setup: Dangers, who: str = "") -> str:
    """What to do, with the figures of a set-up where it has some.

    check : one of CHECKS; setup : whose dead centres; who : its name, with a blank behind it, where there are several
    """
    ends = stop_ends(setup) if check.part == STOPS else []
    return f"{check.action} Here: {who}before {ends_words(setup)}, at the {setup.hand_is}{before_words(setup)}." if ends else check.action


def stop_words(setup: Dangers) -> str:
    """Hand angles before which a stop belongs, left and right, for a table; empty where there is none.  setup : whose dead centres."""
    ends = {side: stop for side, stop, _ in stop_ends(setup)}
    return " / ".join(ends.get(side, "none") for side in ("left", "right")) if ends else ""


def stop_heading(setups: Sequence[Dangers]) -> str:
    """The head of a column of `stop_words`, with what is meant by the angle.  setups : all rows'."""
    turned = {one.hand_is for one in setups if stop_ends(one)}
    return f"stop at\n{turned.pop() if len(turned) == 1 else 'hand'} deg\nleft / right"


def whose_words(setups: Sequence[tuple[str, Dangers]]) -> str:
    """Whose angle a column of stops shows, where rows differ in that, as a sentence behind another.  setups : name and dead centres."""
    named = [f'"{name}"' for name, one in setups if stop_ends(one) and one.hand_is != HAND_WHEEL]
    if not named or len(named) == sum(bool(stop_ends(one)) for _, one in setups):
        return ""
    return f" It is the hand wheel's angle, but the left wheel's for {', '.join(named[:MOST_NAMED])}."


def _before(stop: float) -> str:
    """A stop's angle rounded down, for a stop belongs before the angle and not behind it.  stop [deg]"""
    return f"{floor(10 * abs(stop) + ROUND_OFF) / 10:.1f}"
