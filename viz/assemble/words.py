"""The order of work at the front end, step by step, for people with greasy hands."""

from collections.abc import Iterator
from dataclasses import dataclass
from math import cos, floor, radians, sin
from typing import NamedTuple

from sim.assemble.figures import Assembly
from sim.assemble.pull import Pull
from sim.assemble.rods import SPARE_TURNS, RodToSet, RodVerdict
from sim.car.chassis import GRAVITY
from sim.linkages.catalogue import KINDS, kinds_with_rods
from sim.linkages.kind import Hand
from sim.linkages.pivots import SIDES
from sim.steering.arrangement import HAND_LIMIT
from sim.steering.threads import COARSE_MM, LEAST_DIAMETERS, LEAST_TURNS
from viz.shared.checks import CAUTIONS
from viz.shared.dangers import STOP_GROUND, before_words, ends_words, needs_stop, stop_ends, stop_places

NO_SOURCE = "common practice, no source"
FIGURES = "figures: this car's scenario; the way: common practice, no source"
SHOWN = 0.05  # [mm] that a figure with one decimal does not show
STRAIGHT = 0.02  # sine of a kink that nobody sees
LEAST_LEAN_DEG = 0.05  # that anybody can set
# A luggage scale shows hundredths of a kilogram; a nut that clamps takes more than a few of them.  Judgement. [N]
CLAMPED = 1.0
# A kingpin beside its wheel is tilted by the load: a bolt of 12 mm, 60 mm long, 80 mm inside its wheel, rubs about as much as a dry washer.
# Judgement, from that estimate.  [dry pulls]
BINDS = 2.0
LEAST_TOE_DEG = 0.005  # a smaller one is shown as none
HALF = 0.5  # of the way to the danger, within which the hand wheel stays while no stop is fitted.  Judgement. [-]
# Half the difference of the two ways is what the weight does, and their mean the friction: mechanics.
SWINGS = " A leaning bolt lets the car's weight swing the wheel one way: where you must hold it back, that pull counts below nothing."
LEAST_PULL = 0.5  # that a luggage scale tells; it shows tens of grams.  Judgement. [N]
SHORT_DEG = 5.0  # short of where the steering can turn no further, where a stop belongs so that no part is what stops it.  Judgement.
NEEDED = (
    "two spanners for each size of nut, grease, a steel rule or tape, callipers, a spirit level, "
    "a luggage scale, paint pen, stands, two wheel chocks; two people. About two hours (judgement)."
)


@dataclass(frozen=True)
class Step:
    """One step of the work.

    heading, words : what to do; picture : the name of its drawing, empty for none
    caution : where somebody can be hurt, empty for none; ground : where the advice comes from
    """

    heading: str
    words: str
    picture: str = ""
    caution: str = ""
    ground: str = NO_SOURCE


def steps(front: Assembly) -> list[Step]:
    """The steps in their order.  front : Assembly."""
    kind = KINDS[front.linkage]
    if kind.axle:
        return [*_turntable_steps(front), *_last_steps(front)]
    return [*_stub_axle_steps(front), *(_rod_steps(front) if front.rods else _without_rods(front)), _stops(front), *_last_steps(front)]


WHEELS = Step(
    "Put on the wheels",
    "Washer, wheel, washer, nut: tighten until the wheel drags, back off until it spins freely without rocking. Then the pin "
    "through nut and spindle, its ends bent round.",
    "wheel", "Lift with two people; no fingers between spokes and frame.",
)  # fmt: skip


# --- Stub axles ----------------------------------------------------------------------------------------------------------


def _stub_axle_steps(front: Assembly) -> Iterator[Step]:
    rods = f", {_count(len(front.rods), 'rod')} with {front.lock_nuts} rod ends and {front.lock_nuts} lock nuts" if front.rods else ""
    yield Step(
        "Lay out the parts",
        f"Axle beam, two stub axles, two kingpin bolts with washers and nuts{rods}, both wheels with washers, nuts and pins. Throw away "
        "cracked washers, bent bolts, rod ends that rattle, and locking nuts that turn by hand.",
    )
    yield Step(
        "Fix the axle beam",
        f"Square across the frame, {front.wheelbase_mm:.0f} mm ahead of the rear axle on both sides. The lines of the two kingpin bolts "
        f"meet the ground {front.kingpin_track_mm:.0f} mm apart.{_lean(front)} Measure both diagonals to the rear axle: they "
        "must be equal.",
        "beam", "The frame is on stands that cannot roll, and the rear wheels are blocked. Nobody lies under it.", FIGURES,
    )  # fmt: skip
    yield Step("Tell left from right", _handed(front), "stub axles", "", FIGURES if front.arm_length_mm is not None else NO_SOURCE)
    yield Step(
        "Grease the washers and put in the bolts",
        "The bearing washer takes the car's weight: it goes between the top of the stub axle and the beam's upper jaw. Grease it on both "
        "faces, and the bolt's shank. The bolt goes in from above, so that it stays in if its nut is lost; thin washers fill what is left.",
        "kingpin", "Hold the stub axle by its spindle: the jaws of the beam shear fingers.",
    )  # fmt: skip
    yield Step(
        "Tighten until it binds, then back off",
        "Tighten the kingpin's nut until the stub axle binds. Back it off just until the stub axle swings freely by its own weight "
        "and has no play up and down. Hold the nut there with a second spanner and lock it with the second nut.",
        "nut", "Keep fingers out of the jaws while anybody swings the wheel.",
    )  # fmt: skip
    yield WHEELS
    yield _pull_step(
        front, "Measure the pull at both kingpins",
        "A wheel is on, no rod is fitted yet. Hook a luggage scale to the tyre's foremost point, as high as the hub; pull "
        "level and square to "
        f"the wheel, and read while it turns. Pull both ways and take the mean.{SWINGS if _lean(front) else ''}",
        "turn plates, or two greased sheets of tin under each tyre, driver seated",
    )  # fmt: skip


def _lean(front: Assembly) -> str:
    """How bolts lean that do not stand upright, as a sentence behind another."""
    leans = ((front.kingpin_inclination_deg, "inwards", "outwards"), (front.caster_deg, "backwards", "forwards"))
    told = [f"{abs(lean):.3g} deg {one if lean > 0 else other}" for lean, one, other in leans if abs(lean) > LEAST_LEAN_DEG]
    return f" The top leans {' and '.join(told)}." if told else ""


def _handed(front: Assembly) -> str:
    if front.arm_length_mm is None or front.arm_angle_deg is None:
        return (
            "Stub axles are handed: one left, one right. With the arms behind the axle the arms' ends stand nearer to the car's middle "
            "than the kingpins (kink inwards); ahead of the axle, further from it. Mark them L and R."
        )
    ahead, kink = cos(radians(front.arm_angle_deg)) < 0, sin(radians(front.arm_angle_deg))
    lean = (
        "stand as far apart as the kingpins: without a kink" if abs(kink) < STRAIGHT else
        "stand nearer to each other than the kingpins: kink inwards" if kink > 0 else "stand further apart than the kingpins: kink outwards"
    )  # fmt: skip
    angle = abs(front.arm_angle_deg)
    return (
        f"One is left, one right. On their correct sides both arms point {'ahead' if ahead else 'back'} and their ends {lean}. Here: arm "
        f"{front.arm_length_mm:.0f} mm from the bolt's middle to the joint's, {180 - angle if ahead else angle:.1f} deg from straight "
        f"{'ahead' if ahead else 'back'}. Swapped, the kink is the wrong way round, and the wheels fight in bends. Mark them L and R."
    )


def _pull_step(front: Assembly, heading: str, how: str, rolling: str) -> Step:
    loaded, hanging = front.pull_on_wheels, front.pull_on_stands
    needs = (
        f"about {_newtons(hanging.greased_N)}" if hanging.greased_N >= LEAST_PULL else "hardly any pull, too little to read on the scale"
    )  # fmt: skip
    return Step(
        heading,
        f"{how} On stands it needs {needs}: more than {max(CLAMPED, hanging.dry_N):.1f} N, and the nut "
        f"clamps: back off. Then lower the car; on {rolling}: {pull_words(loaded)}. That is the washer alone; the bolt rubs in its bush "
        "too. "
        f"Above {BINDS:g} times the dry figure, {BINDS * loaded.dry_N:.1f} N, it binds.",
        "pull", "Rear wheels blocked while somebody sits in it. Whoever pulls says so first; all other hands are away from arms and jaws.",
        "flat collar, uniform pressure (Shigley, Mechanical Engineering Design, from memory); frictions: common practice, no source; both "
        "limits: judgements",
    )  # fmt: skip


def pull_words(pull: Pull) -> str:
    """A pull with both frictions, in words.  pull : Pull."""
    return f"{_newtons(pull.greased_N)} greased, {_newtons(pull.dry_N)} dry"


def _newtons(pull: float) -> str:
    """A pull as a luggage scale shows it too.  pull [N]"""
    return f"{pull:.1f} N ({pull / GRAVITY:.2f} kg)"


# --- Rods ----------------------------------------------------------------------------------------------------------------


def _rod_steps(front: Assembly) -> Iterator[Step]:
    alike = len({round(rod.length_mm, 1) for rod in front.rods}) == 1
    lengths = f"{'each ' if len(front.rods) > 1 else ''}{front.rods[0].length_mm:.1f} mm" if alike else ", ".join(
        f"{rod.name} {rod.length_mm:.1f} mm" for rod in front.rods
    )  # fmt: skip
    rods = "the rods" if len(front.rods) > 1 else "the rod"
    yield Step(
        f"Set {rods} to length before you fit {'them' if len(front.rods) > 1 else 'it'}",
        f"From the middle of one eye to that of the other: {lengths}. {' '.join(turns_words(front))} Screw both ends alike; eyes that must "
        "lie flat turn by halves.",
        "rod", "", FIGURES,
    )  # fmt: skip
    kind = KINDS[front.linkage]
    if kind.hand is Hand.LEFT_WHEEL:
        yield Step(
            "Fit what moves the wheels",
            f"The {front.linkage} only joins the two wheels. Fit what turns the left wheel's arm (a lever, or a rod from the "
            "steering column) "
            "so that the hand wheel is in its middle with the left wheel straight ahead. It must not slip on its shaft: a pin or a "
            "flat with a clamp bolt.",
            "plan", "The column turns the wheels at once: say so before you turn it.",
        )  # fmt: skip
    elif kind.hangs:
        yield Step(
            "Fit the steering column and its drop arm",
            f"Hand wheel in its middle, the drop arm hangs straight down; its joint stands {_behind(front)}.{_drop_arm(front)} "
            "The arm must not slip on its "
            "shaft: a pin or a flat, with a clamp bolt. The column has no play along its length.",
            "drop arm", "The drop arm sweeps across the car: no hands beside it when the hand wheel turns.", FIGURES,
        )  # fmt: skip
    else:
        yield Step(
            "Fit what moves the rods",
            f"Its joints stand {_behind(front)}. Put it in the middle: count the hand wheel's turns from end to end and go back half of "
            "them. Mark the middle with paint; then set the hand wheel straight and clamp it.",
            "plan", "It runs from side to side: no fingers between it and its housing.", FIGURES,
        )  # fmt: skip
    yield Step(
        "Bolt on the joints",
        "A washer larger than the eye's ball outside each eye, so that a broken joint cannot fall off; a spacer on the other side, so that "
        f"it can tilt. Bolt heads up, self-locking nuts. With the hand wheel in its middle {_stand_words(front)}; if not, turn {rods}.",
        "joint", f"Arms and rods pinch: the one who holds the joint says when to move the wheel.{_no_stops_yet(front)}",
    )  # fmt: skip
    yield Step(
        f"Tighten {'both' if front.lock_nuts == 2 else f'all {front.lock_nuts}'} lock nuts",
        f"{_count(front.lock_nuts, 'rod end').capitalize()}, {_count(front.lock_nuts, 'lock nut')}. Two spanners: one holds "
        "the rod, the other tightens "
        "the nut against it. Both eyes of a rod lie in their middle, so that neither meets its stop. A stripe of paint across nut and rod "
        "shows later whether it has turned.",
        "lock nuts",
    )  # fmt: skip


def _stand_words(front: Assembly) -> str:
    """How the wheels stand straight ahead, with the planned toe."""
    if not has_toe(front):
        return "both wheels stand straight"
    way = "inwards" if front.toe_in_deg > 0 else "outwards"
    return f"each wheel's leading edge points {abs(front.toe_in_deg):.2f} deg {way}, which is the planned toe"


def has_toe(front: Assembly) -> bool:
    """Whether a toe is planned that the figures show.  front : Assembly."""
    return abs(front.toe_in_deg) >= LEAST_TOE_DEG


def _no_stops_yet(front: Assembly) -> str:
    """How far the hand wheel may go while no stop is fitted, as a sentence behind another; empty where nothing comes in line."""
    ends = stop_ends(front)
    if not ends:
        return ""
    within, stops = floor(HALF * min(float(stop) for _, stop, _ in ends)), {stop for _, stop, _ in ends}
    beyond = stops.pop() if len(stops) == 1 and len(ends) > 1 else " or ".join(f"{stop} {side}" for side, stop, _ in ends)
    return f" No stops yet: keep the {_turned(front)} within {within} deg of straight ahead; beyond {beyond} it can snap over."


def turns_words(front: Assembly) -> list[str]:
    """How each rod is screwed to its length, in sentences; what to give where that cannot be told.  front : Assembly with rods."""
    if front.least_thread_mm is None or front.thread_pitch_mm is None:
        return []
    told = [_rod_words(rod, front) for rod in front.rods]
    if len(told) > 1 and len({line.partition(": ")[2] for line in told}) == 1:
        told = [told[0].replace(f"{front.rods[0].name}: ", "each rod: ")]
    lines = [f"{line[0].upper()}{line[1:]}" for line in told if line]
    if front.missing_keys:
        lines.append(f"For the turns from fully home give {' and '.join(front.missing_keys)} in the scenario.")
    if front.rod_turns_written:
        turned = " and ".join(f"{turns:+g}" for turns in front.rod_turns_written)
        lines.append(f"The lengths hold the rod turns that the set-up writes ({turned}) beyond the planned toe.")
    lines.append(f"At least {front.least_thread_mm:.1f} mm of thread stay inside each end ({_least_ground(front.thread_pitch_mm)}).")
    return lines


def _least_ground(pitch_mm: float) -> str:
    diameter = COARSE_MM.get(round(pitch_mm, 6))
    if diameter is None:
        return f"{LEAST_TURNS:g} turns; also {LEAST_DIAMETERS:g} diameters of your thread, whichever is more"
    return f"{LEAST_DIAMETERS:g} diameters of M{diameter} x {pitch_mm:g}, never under {LEAST_TURNS:g} turns"


def _rod_words(rod: RodToSet, front: Assembly) -> str:
    """A rod's turns, or what is wrong with its parts, as a sentence; empty where too little is given."""
    tubes = ""
    if rod.tube_longest_mm is not None and rod.tube_shortest_mm is not None and rod.tube_to_cut_mm is not None:
        tubes = f"a tube of {rod.tube_shortest_mm:.1f} to {rod.tube_longest_mm:.1f} mm fits, {rod.tube_to_cut_mm:.1f} mm leaves "
        tubes += f"room to set it both ways (up to {SPARE_TURNS:g} turns)."
    if rod.verdict is RodVerdict.NOT_GIVEN:
        return f"{rod.name}: {tubes}" if tubes else ""
    if rod.verdict is not RodVerdict.FITS:
        return f"{rod.name}: {rod.verdict.value}{'; ' + tubes if tubes else '.'}"
    assert rod.length_by_turns_mm is not None  # of a rod that fits
    # Half turns seldom meet a length exactly: what is left is told, and the length to set stays the one of the table.
    left = rod.length_mm - rod.length_by_turns_mm
    off = " measure it" if abs(left) < SHOWN else (
        f" {abs(left):.1f} mm are missing to {rod.length_mm:.1f} mm, less than half a turn" if left > 0
        else f" it is {abs(left):.1f} mm over {rod.length_mm:.1f} mm, less than half a turn"
    )  # fmt: skip
    return (
        f"{rod.name}: from fully home {rod.turns_one_end:g} turns out at one end, {rod.turns_other_end:g} at the other "
        f"({rod.thread_inside_mm:.1f} mm of thread stay inside); then{off}."
    )


def _behind(front: Assembly) -> str:
    behind = front.joints_behind_front_axle_mm or 0.0
    if abs(behind) < 0.5:
        return "level with the front axle"
    return f"{abs(behind):.0f} mm {'behind' if behind > 0 else 'ahead of'} the front axle"


def _drop_arm(front: Assembly) -> str:
    """How long the drop arm is and how far apart its joints are, as a sentence behind another."""
    if front.hanging_arm_mm is None or front.hanging_joints_apart_mm is None:
        return ""
    apart = front.hanging_joints_apart_mm
    joints = f"its two joints {apart:.0f} mm apart" if apart else "both rods on one joint"
    return f" From the column's axis to the joint it measures {front.hanging_arm_mm:.0f} mm, {joints}."


def _turned(front: Assembly) -> str:
    """What turns by the hand angle, for whoever measures it."""
    return front.hand_is


def _without_rods(front: Assembly) -> Iterator[Step]:
    yield Step(
        "Choose arms and rods",
        f'"{front.linkage}" is a rule for the wheels\' angles and not a linkage of parts, so there are no rods whose length could be told. '
        f"Take a set-up with {kinds_with_rods()} (--setup), or find one with the command search.",
        "", "", "the model",
    )  # fmt: skip
    yield Step(
        "Tighten every lock nut",
        "Each rod end of whatever you fit has one. Two spanners: one holds the rod, the other tightens the nut against it.",
        "lock nuts",
    )  # fmt: skip


def _stops(front: Assembly) -> Step:
    ends, turned = stop_ends(front), _turned(front)
    if not ends:
        return Step(
            "Fit the stops",
            f"Fit a stop on both sides of the {turned}: {free_stops(front)}. It holds there, and before a wheel touches anything. "
            "Try both by hand.",
            "stop", "", _free_ground(front),
        )  # fmt: skip
    alone = [side for side in SIDES if side not in [one for one, *_ in ends]]
    also = "".join(f" To the {side} a stop too: {free_stop(front, side).words}." for side in alone)
    limits = ends_words(front)
    if needs_stop(front):
        fit, held = f"Fit a stop that holds the {turned} before it passes {limits}.", before_words(front)
    else:  # one place to fit a stop, not two
        own = " and ".join(f"{stop} deg {side}" for side, stop in stop_places(front))
        where = "your stop" if front.stop_is_yours else "a stop where this steering ends"
        fit, held = f"Fit {where}: at {own} of the {turned}. If ever it stands elsewhere, then never past {limits}.", ""
    return Step(
        "Fit the stops",
        f"{fit} Further on, "
        f"at {' and '.join(f'{dead:.1f} deg {side}' for side, _, dead in ends)}, a rod and its arm come in line, and the steering can snap "
        f"over or jam{held}.{also}{_rods_first(front)} Try both stops by hand.",
        "stop", f"Measure the angle at the {turned}. Never turn to the place in line, and no hands near arms and rods while you try.",
        f"figures: this car's scenario; {STOP_GROUND}",
    )  # fmt: skip


class FreeStop(NamedTuple):
    """A stop on a side on which no rod comes in line.

    stop_deg : where it belongs [deg]; place : the same in words; assumed : that nobody chose it, in words; short : of what it stands short;
    both empty where that is not so; ground : where the figure comes from
    """

    stop_deg: float
    place: str
    assumed: str
    short: str
    ground: str

    @property
    def words(self) -> str:
        """Where it belongs, and why there."""
        return f"{self.place}{self.assumed}{self.short}"


def free_stop(front: Assembly, side: str) -> FreeStop:
    """Where a stop belongs on a side on which no rod comes in line.

    front : Assembly; side : "left" or "right"
    Returns FreeStop: the scenario's own stop, or what is assumed where it gives none, or short of where the steering can turn no further.
    """
    lock, cause = (
        (abs(front.lock_left_deg), front.lock_left_cause) if side == "left" else (abs(front.lock_right_deg), front.lock_right_cause)
    )
    if cause != HAND_LIMIT:
        stop = max(lock - SHORT_DEG, HALF * lock)
        short = f", short of {lock:.1f}, where {cause}"
        return FreeStop(stop, f"{stop:.1f} deg {side}", "", short, f"that it stands {lock - stop:.0f} deg short is a judgement")
    place = f"{lock:.1f} deg {side}"
    if front.own_stop_deg is None:
        return FreeStop(lock, place, " (assumed, not yours: hand_wheel_limit_deg is not given)", "", "assumed: a judgement")
    return FreeStop(lock, place, "", "", FIGURES)


def free_stops(front: Assembly) -> str:
    """Where stops belong on both sides of a steering in which no rod comes in line.  front : Assembly."""
    left, right = (free_stop(front, side) for side in SIDES)
    if left.assumed and right.assumed:  # told once
        return f"{left.place} and {right.words}"
    return f"{left.words}{';' if left.assumed or left.short else ' and'} {right.words}"


def _free_ground(front: Assembly) -> str:
    return "; ".join(dict.fromkeys(free_stop(front, side).ground for side in SIDES))


def _rods_first(front: Assembly) -> str:
    """What rods of another length do to the dangerous place, as a sentence behind another."""
    if not front.danger_per_turn_deg:
        return " Rods set to another length move that place: measure them first."
    return f" Each turn that the rods are set short brings that place {front.danger_per_turn_deg:.1f} deg nearer: measure them first."


# --- Turntable -----------------------------------------------------------------------------------------------------------


def _turntable_steps(front: Assembly) -> Iterator[Step]:
    yield Step(
        "Lay out the parts",
        "Axle with its turning plate, the plate of the frame, king bolt with washers, castle nut and split pin (or two nuts), the bar or "
        "both "
        "ropes, stops, both "
        "wheels with washers, nuts and pins. Throw away cracked washers, frayed ropes and bent bolts.",
    )
    yield Step(
        "Fix the frame's plate",
        f"Level, and its hole on the car's middle line, {front.wheelbase_mm:.0f} mm ahead of the rear axle: equally far from the middle of "
        f"both rear tyres.{_lean(front)}",
        "table", "The frame is on stands that cannot roll, and the rear wheels are blocked. Nobody lies under it.", FIGURES,
    )  # fmt: skip
    yield Step(
        "Bolt the axle to its turning plate",
        f"Square, and its hole in the middle: {front.front_track_mm / 2:.0f} mm from the king bolt to the middle of each "
        "tyre. Four bolts at "
        "least, self-locking nuts.",
        "axle", "", FIGURES,
    )  # fmt: skip
    yield Step(
        "Grease plates and washers",
        "The bearing washer or the two plates take the car's weight. Grease them on both faces. They are large and flat: dirt between "
        "them tilts the axle.",
        "king bolt",
    )  # fmt: skip
    yield Step(
        "Tighten until it binds, then back off",
        "The bolt goes in from above, with a large washer under head and castle nut (or first nut). Tighten that nut until the axle binds; "
        "back it off just until "
        "it swings freely and has no play up and down.",
        "nut", "Keep fingers from between the plates: they shear.",
    )  # fmt: skip
    yield Step(
        "Lock the king bolt",
        "Split pin through bolt and castle nut, or the second nut against the first; the nut must not turn with it. Nothing else "
        "holds the front axle: it gets a stripe "
        "of paint, and somebody else looks at it.",
        "", "If this bolt is lost, so is the front axle.",
    )  # fmt: skip
    yield WHEELS
    yield _pull_step(
        front, "Measure the pull",
        "Wheels on, bar or ropes off. Hook a luggage scale to the axle at one wheel's hub, pull level and along the car, and read while "
        "it turns. Pull both ways and take the mean.",
        "smooth ground with the car on turn plates or greased sheets of tin, driver seated",
    )  # fmt: skip
    yield Step(
        "Fit the bar or the ropes",
        "A bar: bolted to the axle on both sides of the king bolt. Ropes: that do not stretch, one to each end of the axle, equally long "
        "with the axle straight, each tied twice, tight enough not to sag and not so tight that they bind.",
        "ropes", "Ropes and bar pinch hands and feet against the frame: try where they run before you sit in it.",
    )  # fmt: skip
    yield Step(
        "Fit the stops",
        f"Fit a block or a chain on both sides that holds the axle: {free_stops(front)}. It holds before a wheel touches frame or feet. "
        "Try "
        "both by hand.",
        "axle stop", "Steered far, a turntable axle tips sooner, and a kerb tears it round: only at a walk (see the command "
        "knock).", _free_ground(front),
    )  # fmt: skip


# --- What ends every job -------------------------------------------------------------------------------------------------


def _last_steps(front: Assembly) -> Iterator[Step]:
    if KINDS[front.linkage].axle:
        yield Step(
            "Set it straight",
            "With the bar or the hand wheel in its middle both front tyres are equally far from the rear tyres on their sides. Mark that "
            "place with paint.",
        )  # fmt: skip
    toe, kind = front.toe_in_deg, KINDS[front.linkage]
    parts = "the king bolt stays where it is, no rope or bar binds" if kind.axle else "no joint meets its end, no rod bends"
    measures = "commands template and bench measure" if kind.rods else "sheets of the command template measure"
    planned = "no toe" if not has_toe(front) else f"{abs(toe):.2f} deg of toe-{'in' if toe > 0 else 'out'} at each wheel"
    yield Step(
        "Turn from stop to stop by hand",
        "Slowly, on the stands, one person at the hand wheel and one who looks: nothing touches, "
        f"{parts}, no cable pulls tight, both stops hold.",
        "", CAUTIONS[0],
    )  # fmt: skip
    yield Step(
        "Check, measure, and let an adult look",
        f"Planned is {planned}. The {measures} what you built; angles --checks lists what to look "
        "at before anybody "
        "drives. First try at a walk, away from people.",
        "", CAUTIONS[2],
    )  # fmt: skip


def _count(number: int, what: str) -> str:
    names = ("no", "one", "two", "three", "four")
    return f"{names[number] if number < len(names) else number} {what}{'' if number == 1 else 's'}"


def number_lines(front: Assembly) -> list[str]:
    """This car's own numbers, for the first sheet.  front : Assembly."""
    lines = [f"{rod.name[0].upper()}{rod.name[1:]}, eye to eye: {rod.length_mm:.1f} mm" for rod in front.rods]
    if front.rods:
        lines.append(f"Lock nuts: {front.lock_nuts}")
    ends = stop_ends(front)
    if ends:
        told = ", ".join(f"{stop} deg {side}" for side, stop, _ in ends)
        lines.append(f"Stops before, at the {_turned(front)}: {told}{before_words(front)}")
    else:
        left, right = (free_stop(front, side).stop_deg for side in SIDES)
        assumed = " (assumed)" if front.own_stop_deg is None and HAND_LIMIT in (front.lock_left_cause, front.lock_right_cause) else ""
        lines.append(f"Stops at: {left:.1f} deg left, {right:.1f} deg right{assumed}")
    loaded, hanging = front.pull_on_wheels, front.pull_on_stands
    lines.append("Pull with the luggage scale:")
    lines.append(f"on its wheels, greased: {_newtons(loaded.greased_N)}")
    lines.append(f"on its wheels, dry: {_newtons(loaded.dry_N)}")
    lines.append(f"on stands, greased: {_newtons(hanging.greased_N) if hanging.greased_N >= LEAST_PULL else 'hardly any'}")
    return lines
