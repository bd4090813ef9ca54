"""The glossary's small drawings: a dozen scenes, each of which marks the part that a word means."""

from collections.abc import Callable
from math import atan2, cos, degrees, exp, pi, radians, sin, tan

from markupsafe import Markup

from viz.words.sketch import INK, OTHER, SOFT, Point, Sketch

WIDTH, HEIGHT = 170.0, 116.0


def drawing_of(name: str, label: str) -> Markup:
    """A word's drawing.  name : "scene:part", or a scene that has but one; label : what it shows.  Raises KeyError for no such scene."""
    scene, _, part = name.partition(":")
    page = Sketch(WIDTH, HEIGHT)
    SCENES[scene](page, part)
    return page.svg(label, css="small")


def _body(page: Sketch, x: float = 85, front: float = 26, rear: float = 88, track: float = 56) -> dict[str, Point]:
    """A car from above, its nose up the page; its wheels' places."""
    half = track / 2
    places = {
        "front left": (x - half, front),
        "front right": (x + half, front),
        "rear left": (x - half + 2, rear),
        "rear right": (x + half - 2, rear),
    }
    page.path([(x - 10, rear + 10), (x - 13, 60), (x - 6, front - 14), (x + 6, front - 14), (x + 13, 60), (x + 10, rear + 10)], closed=True,
              fill="#f6f7f8")  # fmt: skip
    for y, left, right in ((front, "front left", "front right"), (rear, "rear left", "rear right")):
        page.line((places[left][0], y), (places[right][0], y))
    return places


def _plan(page: Sketch, part: str) -> None:
    at = _body(page)
    for name, place in at.items():
        page.wheel(place, mark=part == "wheels" or (part == "drive" and name == "rear left"))
    if part == "wheelbase":
        page.arrow((132, 26), (132, 88), mark=True, both=True)
        for y in (26, 88):
            page.line((116, y), (137, y), dash="2 2")
    elif part == "track":
        page.arrow((57, 9), (113, 9), mark=True, both=True)
        page.arrow((59, 108), (111, 108), mark=True, both=True)
    elif part == "mass centre":
        page.disc((85, 60), 5, mark=True, fill="#ffffff")
        page.path([(85, 60), (85, 55)], mark=True)
        page.path([(85, 60), (90, 60)], mark=True)
        page.arrow((100, 26), (100, 60), both=True)
    elif part == "yaw":
        page.arc((85, 58), 44, 20, 80, mark=True)
        page.arrow((94, 14.9), (88, 14.2), mark=True)
        page.disc((85, 60), 2.5, colour=INK, fill=INK)
    elif part == "string":
        for x in (49, 121):
            page.line((x, 4), (x, 112), mark=True)
        page.arrow((113 + 3.5, 17), (121, 17), both=True)
        page.arrow((113 + 3.5, 35), (121, 35), both=True)
    elif part == "wheels":
        for name, x, anchor in (
            ("front left", 48, "end"),
            ("rear left", 50, "end"),
            ("front right", 122, "start"),
            ("rear right", 120, "start"),
        ):
            page.text((x, at[name][1] + 3), name, anchor=anchor)
    elif part == "drive":
        page.arrow((40, 96), (40, 78), mark=True)
        page.text((40, 107), "drives")


def _axle(page: Sketch, turn_left: float, turn_right: float) -> tuple[Point, Point]:
    left, right = (55.0, 28.0), (115.0, 28.0)
    page.line(left, right)
    page.wheel((46, 28), turn_left)
    page.wheel((124, 28), turn_right)
    for pin in (left, right):
        page.disc(pin, 2.2, colour=INK, fill="#ffffff")
    return left, right


def _linkage(page: Sketch, part: str) -> None:
    if part == "turntable":
        page.path([(77, 110), (77, 30), (93, 30), (93, 110)], fill="#f6f7f8", closed=True)
        turn = radians(20)
        tips = [(85 + side * 42 * cos(turn), 34 - side * 42 * sin(turn)) for side in (-1, 1)]
        page.line(tips[0], tips[1], mark=True)
        for end in tips:
            page.wheel(end, 20)
        page.disc((85, 34), 3.5, colour=INK, fill="#ffffff")
        return
    if part == "toe":
        _axle(page, -9, 9)
        for x, turn in ((46, -9), (124, 9)):
            page.line((x, 58), (x, 2), dash="2 2")
            page.line((x + 26 * tan(radians(turn)) * -1, 2), (x - 26 * tan(radians(turn)) * -1, 54), mark=True)
        return
    left, right = _axle(page, 0, 0)
    if part == "stub":
        page.line((46, 28), left, mark=True)
        page.arc(left, 16, 150, 210, mark=True)
        return
    joints = ((left[0] + 7, left[1] + 30), (right[0] - 7, right[1] + 30))
    arms = part in ("arm", "arm angle", "rod angle", "dead centre")
    for pin, joint in zip((left, right), joints, strict=True):
        page.line(pin, joint, mark=arms, colour=None if arms else INK, width=None if arms else 2)
    if part == "dead centre":
        page.line(left, (left[0] + 14, left[1] + 34), dash="2 2")
        page.line((left[0] + 14, left[1] + 34), (left[0] + 34, left[1] + 83), mark=True)
        page.text((112, 100), "in one line")
    elif part in ("hanging arm", "bar"):
        middle = 62.0
        if part == "bar":
            page.line((70, middle), (100, middle), mark=True, width=5)
            ends = ((70.0, middle), (100.0, middle))
        else:
            page.line((85, 104), (85, middle), mark=True)
            page.disc((85, 104), 3, colour=INK, fill="#ffffff")
            page.text((95, 107), "column", anchor="start")
            ends = ((85.0, middle), (85.0, middle))
        for joint, end in zip(joints, ends, strict=True):
            page.line(joint, end, colour=INK)
    else:
        page.line(joints[0], joints[1], mark=part == "one rod", colour=None if part == "one rod" else INK)
    if part == "arm angle":
        page.line(left, (left[0], left[1] + 52), dash="2 2")
        page.arc(left, 44, -90, -77, mark=True)
    if part == "rod angle":
        page.arc(joints[0], 13, 0, 103, mark=True)
    for joint in joints:
        page.disc(joint, 2.4, colour=INK, fill="#ffffff", mark=False)


def _bend(page: Sketch, part: str) -> None:
    """A car in a left turn: where the lines of its axles meet."""
    centre = (18.0, 96.0)
    base = 58.0  # wheelbase on the page
    left, right, rear = 92.0, 132.0, 96.0
    front = rear - base
    ideal = {x: degrees(atan2(base, x - centre[0])) for x in (left, right)}
    middle = degrees(atan2(base, (left + right) / 2 - centre[0]))
    parallel = part in ("alike", "error")
    turns = {left: middle if parallel else ideal[left], right: middle if parallel else ideal[right]}
    page.path(
        [((left + right) / 2 + dx, y) for dx, y in ((-8, rear + 8), (-8, front - 14), (8, front - 14), (8, rear + 8))],
        closed=True,
        fill="#f6f7f8",
    )
    page.line((left, rear), (right, rear))
    page.line((left, front), (right, front))
    if part in ("meet", "alike", "error"):
        page.line((right, rear), centre, dash="3 2")
        for x, turn in turns.items():
            reach = (x - centre[0]) / cos(radians(turn)) if part == "meet" else 96.0
            page.line((x, front), (x - reach * cos(radians(turn)), front + reach * sin(radians(turn))), mark=part in ("meet", "alike"))
        if part == "meet":
            page.disc(centre, 3, mark=True, fill="#ffffff")
    if part == "error":
        page.line((left, front), (centre[0], centre[1]), mark=True)
    if part == "equivalent":
        x = (left + right) / 2
        page.line((x, front), centre, mark=True)
        page.wheel((x, front), middle, mark=True)
        page.line((x, rear), centre, dash="3 2")
    for x in (left, right):
        page.wheel((x, front), turns[x])
        page.wheel((x, rear))
    if part in ("radius", "circle"):
        at = ((left + right) / 2, 62.0) if part == "radius" else (right, front)
        page.arrow(centre, at, mark=True)
        page.disc(centre, 2, colour=INK, fill=INK)
        if part == "circle":
            page.arc(centre, ((right - centre[0]) ** 2 + base**2) ** 0.5, 10, 62, mark=True)
    if part == "sideslip":
        at = ((left + right) / 2, 66.0)
        page.arrow(at, (at[0], 12))
        page.arrow(at, (at[0] - 18, 16), mark=True)
        page.text((at[0] + 4, 12), "nose", anchor="start")
        page.text((at[0] - 20, 12), "way", anchor="end", mark=True)


def _wheel(page: Sketch, part: str) -> None:
    """One wheel from above, large."""
    at = (85.0, 62.0)
    turn = 20.0 if part in ("steer", "slip") else 0.0
    page.wheel(at, turn, long=62, wide=20, mark=part == "loss")
    if part in ("steer", "slip"):
        page.line(
            (at[0] + 56 * sin(radians(turn)), at[1] + 56 * cos(radians(turn))),
            (at[0] - 58 * sin(radians(turn)), at[1] - 58 * cos(radians(turn))),
            dash="3 2",
        )
    if part == "steer":
        page.line((85, 114), (85, 4), colour=INK)
        page.arc(at, 48, 90, 110, mark=True)
        page.text((100, 12), "straight ahead", anchor="start")
    elif part == "slip":
        page.arrow(at, (at[0] + 2, 4), colour=OTHER)
        page.text((92, 12), "it goes", anchor="start", colour=OTHER)
        page.arc(at, 44, 90, 110, mark=True)
        page.text((58, 12), "it points", anchor="end")
    elif part == "force":
        page.arrow((132, 62), (99, 62), mark=True)
        page.text((134, 54), "ground", mark=True)
        page.text((134, 78), "pushes", mark=True)
    elif part == "drive force":
        page.arrow((85, 62), (85, 8), mark=True)
    elif part == "drive slip":
        page.arrow((60, 90), (60, 34), mark=True)
        page.text((56, 60), "tread", anchor="end", mark=True)
        page.arrow((110, 90), (110, 46), colour=OTHER)
        page.text((114, 62), "ground", anchor="start", colour=OTHER)
        page.text((114, 73), "goes by", anchor="start", colour=OTHER)
    elif part == "trail":
        page.disc(at, 2, colour=INK, fill=INK)
        page.arrow((130, 78), (97, 78), colour=OTHER)
        page.text((133, 81), "side force", anchor="start", colour=OTHER, size=8)
        page.line((85, 78), (97, 78), colour=OTHER)
        page.arrow((66, 62), (66, 78), mark=True, both=True)
    elif part == "loss":
        for x in (72, 85, 98):
            page.arrow((x + 40, 96), (x + 22, 96), mark=True)
        page.path([(98, 40), (112, 36), (104, 52), (116, 54), (100, 64)], mark=True)


def _front(page: Sketch, part: str) -> None:
    """The left front wheel from the front of the car: the car's middle is to the left of the drawing."""
    ground, wheel = 100.0, 112.0
    lean = 12.0 if part in ("inclination", "hub arm") else 0.0
    page.line((20, ground), (160, ground), colour=INK)
    tilt = 8.0 if part == "camber" else 0.0
    page.parts.append(f'<g transform="rotate({tilt:g} {wheel:g} {ground:g})">')
    page.path([(wheel - 7, 34), (wheel + 7, 34), (wheel + 7, ground), (wheel - 7, ground)], closed=True, colour=INK, fill="#e4e7ea")
    page.parts.append("</g>")
    top = (84 - 70 * tan(radians(lean)) + 4, 24.0)
    foot = (84 + 4 + 12 * tan(radians(lean)), ground)
    if part in ("camber", "width"):
        if part == "camber":
            page.line((wheel, 22), (wheel, ground), dash="3 2")
            page.line((wheel, ground), (wheel + 78 * tan(radians(tilt)), 22), mark=True)
        else:
            page.arrow((wheel - 7, 108), (wheel + 7, 108), mark=True, both=True)
        return
    page.line(
        top,
        foot,
        mark=part in ("kingpin", "inclination"),
        dash="" if part in ("kingpin", "inclination") else "4 2",
        colour=None if part in ("kingpin", "inclination") else INK,
    )
    page.line((40, 66), (wheel - 7, 66), colour=INK)
    if part == "inclination":
        page.line((foot[0], 20), foot, dash="2 2")
        page.arc(foot, 70, 90, 90 + lean, mark=True)
    elif part == "offset":
        page.arrow((foot[0], 108), (wheel, 108), mark=True, both=True)
    elif part == "hub arm":
        page.arrow((top[0] + (66 - 24) * (foot[0] - top[0]) / (ground - 24), 66), (wheel, 66), mark=True, both=True)
    elif part == "track":
        page.line((24, 24), (24, ground), dash="4 2", colour=INK)
        page.arrow((24, 108), (foot[0], 108), mark=True, both=True)
    elif part == "washer":
        page.line((76, 56), (98, 56), mark=True, width=5)


def _side(page: Sketch, part: str) -> None:
    """A wheel from the side; ahead is to the left."""
    at, radius, ground = (88.0, 62.0), 36.0, 98.0
    page.line((10, ground), (160, ground), colour=INK)
    page.disc(at, radius, colour=INK, width=4)
    page.disc(at, 3, colour=INK, fill=INK)
    lean = radians(18)
    foot = (at[0] - radius * tan(lean), ground)
    if part in ("caster", "trail"):
        page.line((at[0] + 50 * tan(lean), at[1] - 50), foot, mark=part == "caster")
        if part == "caster":
            page.line((at[0], 8), at, dash="2 2")
            page.arc(at, 44, 90, 72, mark=True)
        else:
            page.line((at[0], at[1]), (at[0], ground), dash="2 2")
            page.arrow((foot[0], 107), (at[0], 107), mark=True, both=True)
        page.text((30, 70), "ahead", mark=False)
        page.arrow((44, 76), (18, 76))
    elif part == "radius":
        page.arrow(at, (at[0], ground), mark=True, both=True)
    elif part == "contact":
        page.line((at[0] - 9, ground), (at[0] + 9, ground), mark=True, width=5)
    elif part == "step":
        page.path([(10, 82), (57, 82), (57, ground)], mark=True)
        page.arrow((57, 82), (76, 70), colour=OTHER)
    elif part == "rolling":
        page.arrow((40, 92), (66, 92), mark=True)
        page.arrow((64, 20), (34, 20), colour=INK)
        page.text((49, 14), "rolls")
    elif part == "air":
        for y in (34, 52, 70):
            page.arrow((12, y), (46, y), mark=True)


def _hand(page: Sketch, part: str) -> None:
    at, radius = (60.0, 58.0), 38.0
    page.disc(at, radius, colour=INK, width=3)
    page.disc(at, 4, colour=INK, fill=INK)
    for spoke in (90, 210, 330):
        page.line(at, (at[0] + radius * cos(radians(spoke)), at[1] - radius * sin(radians(spoke))))
    if part in ("angle", "lock", "stop", "ratio"):
        far = {"angle": 130, "ratio": 150, "lock": 200, "stop": 185}[part]
        page.arc(at, radius + 8, 90, far, mark=True)
        end = radians(far)
        page.arrow((at[0] + 46 * cos(end + -0.12), at[1] - 46 * sin(end - 0.12)), (at[0] + 46 * cos(end), at[1] - 46 * sin(end)), mark=True)
        if part in ("lock", "stop"):
            page.line((at[0] + 34 * cos(end), at[1] - 34 * sin(end)), (at[0] + 56 * cos(end), at[1] - 56 * sin(end)), mark=True, width=4)
    if part == "ratio":
        page.wheel((132, 58), 12, long=44, wide=14)
        page.line((132, 20), (132, 96), dash="2 2")
    elif part == "play":
        page.arc(at, radius + 8, 84, 96, mark=True, width=4)
    elif part == "torque":
        page.arrow((14, 40), (20, 26), mark=True)
        page.arrow((106, 76), (100, 90), mark=True)
    page.line((60, 10), (60, 20), colour=INK)


def _tip(page: Sketch, part: str) -> None:
    """The car from behind in a left turn."""
    roll = {"load": 0.0, "lift": 5.0, "tip": 24.0}[part]
    page.line((20, 100), (150, 100), colour=INK)
    page.parts.append(f'<g transform="rotate({roll:g} 118 100)">')
    page.path([(62, 46), (108, 46), (108, 78), (62, 78)], closed=True, fill="#f6f7f8")
    for x in (52, 118):
        page.path([(x - 5, 66), (x + 5, 66), (x + 5, 100), (x - 5, 100)], closed=True, colour=INK, fill="#e4e7ea")
    page.line((52, 84), (118, 84))
    page.disc((85, 60), 3, colour=INK, fill="#ffffff")
    page.parts.append("</g>")
    if part == "load":
        page.arrow((52, 114), (52, 102), mark=True)
        page.arrow((118, 116), (118, 102), mark=True, width=4)
    page.arrow((90, 34), (128, 34), mark=part != "load", colour=OTHER if part == "load" else None)
    page.text((70, 22), "bend pushes outwards", size=8)


def _curve(page: Sketch, part: str) -> None:
    """Side force over slip."""
    page.arrow((24, 100), (160, 100), colour=INK)
    page.arrow((24, 100), (24, 10), colour=INK)
    page.text((122, 112), "slip")
    page.text((28, 14), "side force", anchor="start")
    grip = 34.0
    linear = [(24.0, 100.0), (74.0, grip), (154.0, grip)]
    brush = [(24 + 130 * n / 40, 100 - (100 - grip) * (1 - (1 - min(1.0, n / 40 * 130 / 150)) ** 3)) for n in range(41)]
    if part in ("linear", "laws", "stiffness", "grip", "load"):
        page.path(linear, mark=part in ("linear", "laws"))
    if part in ("brush", "laws"):
        page.path(brush, mark=part == "brush", colour=OTHER if part == "laws" else None, width=2.4)
    if part == "stiffness":
        page.line((24, 100), (64, 47.2), mark=True)
    elif part == "load":
        page.path([(24, 100), (92, grip), (154, grip)], mark=True)
    elif part == "grip":
        page.line((74, grip), (154, grip), mark=True)


def _relax(page: Sketch, part: str) -> None:
    page.arrow((24, 100), (160, 100), colour=INK)
    page.arrow((24, 100), (24, 10), colour=INK)
    page.text((122, 112), "way rolled")
    page.text((28, 14), "side force", anchor="start")
    page.line((24, 32), (156, 32), dash="3 2")
    page.path([(24 + 130 * n / 40, 100 - 68 * (1 - exp(-n / 11))) for n in range(41)], colour=INK, width=2)
    page.line((60, 57), (60, 100), dash="2 2")
    page.arrow((24, 92), (60, 92), mark=True, both=True)


BARS = (("air", 16.0), ("rolling", 46.0), ("brakes", 18.0), ("scrub", 40.0), ("aligning", 12.0))


def _bars(page: Sketch, part: str) -> None:
    """Where the drive work of a lap goes."""
    x, tall = 14.0, 22.0
    if part in ("geometry", "residual"):
        page.path([(14, 30), (122, 30), (122, 52), (14, 52)], closed=True, colour=INK, fill="#e4e7ea")
        far = 150.0 if part == "geometry" else 122.0
        page.path([(14, 68), (122, 68), (122, 90), (14, 90)], closed=True, colour=INK, fill="#e4e7ea")
        page.text((18, 26), "ideal" if part == "geometry" else "drive work", anchor="start")
        page.text((18, 102), "this set-up" if part == "geometry" else "all losses", anchor="start")
        if part == "geometry":
            page.path([(122, 68), (far, 68), (far, 90), (122, 90)], closed=True, mark=True, fill="#f4d9c6")
        else:
            page.line((122, 22), (122, 98), mark=True)
        return
    for name, wide in BARS:
        chosen = part in (name, "all")
        page.path(
            [(x, 48), (x + wide, 48), (x + wide, 48 + tall), (x, 48 + tall)],
            closed=True,
            mark=chosen,
            fill="#f4d9c6" if chosen else "#e4e7ea",
        )
        if part == name:
            page.text((x + wide / 2, 40), name, mark=True)
        x += wide
    page.arrow((14, 88), (x, 88), both=True, colour=INK)
    page.text((80, 102), "drive work")


def _bell(page: Sketch, part: str) -> None:
    """How often values turn up."""

    def bell(middle: float, wide: float, low: float = 14, high: float = 156) -> list[Point]:
        return [(x, 92 - 66 * exp(-(((x - middle) / wide) ** 2) / 2)) for x in (low + (high - low) * n / 60 for n in range(61))]

    page.line((10, 92), (160, 92), colour=INK)
    if part == "apart":
        page.path(bell(54, 14), colour=INK, width=2)
        page.path(bell(114, 14), colour=OTHER, width=2)
        page.arrow((54, 16), (114, 16), mark=True, both=True)
        return
    page.path(bell(85, 26), colour=INK, width=2)
    if part == "interval":
        page.path([*bell(85, 26, 34, 136), (136, 92), (34, 92)], closed=True, mark=True, fill="#f4d9c6")
        page.arrow((34, 104), (136, 104), mark=True, both=True)
    elif part == "share":
        page.path([*bell(85, 26, 96, 156), (156, 92), (96, 92)], closed=True, mark=True, fill="#f4d9c6")
    elif part == "median":
        page.line((85, 20), (85, 98), mark=True)
    elif part == "bound":
        page.line((112, 12), (112, 98), mark=True, width=4)
    elif part == "tries":
        for n in range(15):
            x = 85 + 26 * (-1.9, -1.4, -1.1, -0.9, -0.6, -0.4, -0.2, 0.0, 0.15, 0.35, 0.6, 0.8, 1.1, 1.5, 2.0)[n]
            page.line((x, 96), (x, 106), mark=True)


def _track(page: Sketch, part: str) -> None:
    """A course from above."""
    if part == "slope":
        page.path([(12, 92), (60, 92), (120, 52), (158, 52)], colour=INK, width=2)
        page.arrow((126, 92), (126, 54), mark=True, both=True)
        return
    if part == "clothoid":
        page.path([(14, 100), (60, 100)], colour=INK, width=2)
        angle, at, points = 0.0, (60.0, 100.0), [(60.0, 100.0)]
        for n in range(60):
            angle += 0.0009 * n
            at = (at[0] + 1.7 * cos(angle), at[1] - 1.7 * sin(angle))
            points.append(at)
        page.path(points, mark=True)
        return
    loop = [(85 + (56 + 8 * cos(3 * t)) * cos(t), 58 - (36 + 7 * sin(2 * t)) * sin(t)) for t in (2 * pi * n / 90 for n in range(91))]
    page.path(loop, colour=INK, width=2, mark=False)
    if part == "course":
        page.path(loop, mark=True)
    elif part == "flying":
        page.line((142, 58), (158, 58), mark=True, width=4)
        page.arrow((149, 72), (148, 44), mark=True)
        page.text((85, 56), "second time round")
        page.text((85, 68), "counts")
    elif part == "segment":
        page.path(loop[24:44], mark=True, width=4)
    elif part in ("off line", "weaves", "tolerance"):
        off = {"off line": lambda n: 6 * sin(pi * n / 30), "weaves": lambda n: 5 * sin(pi * n / 4), "tolerance": lambda n: 2.5 * (-1) ** n}[
            part
        ]
        piece = [(x + off(n) * (x - 85) / 56, y + off(n) * (y - 58) / 36) for n, (x, y) in enumerate(loop[10:41])]
        if part == "tolerance":
            for point in piece[::3]:
                page.disc(point, 1.6, mark=True)
        else:
            page.path(piece, mark=True)


def _speed(page: Sketch, part: str) -> None:
    """Speed over the way: on a straight, before and in a bend, and out of it."""
    page.arrow((20, 100), (160, 100), colour=INK)
    page.arrow((20, 100), (20, 10), colour=INK)
    page.text((24, 14), "speed", anchor="start")
    if part == "coast":
        page.path([(20 + 130 * n / 40, 28 + 66 * (n / 40) ** 0.9) for n in range(41)], mark=True)
        page.text((110, 112), "time")
        return
    page.text((128, 112), "way")
    pieces = {
        "start": [(20.0, 84.0), (26.0, 60.0), (36.0, 36.0)], "target": [(36.0, 36.0), (72.0, 36.0)],
        "braking": [(72.0, 36.0), (92.0, 72.0)],
        "bend": [(92.0, 72.0), (116.0, 72.0)], "power": [(116.0, 72.0), (128.0, 50.0), (150.0, 36.0)],
    }  # fmt: skip
    for name, points in pieces.items():
        page.path(points, mark=name == part, colour=None if name == part else INK, width=3 if name == part else 1.6)


def _circuit(page: Sketch, part: str) -> None:
    """Battery, motor, gear and wheel."""
    page.path(
        [(14, 44), (44, 44), (44, 74), (14, 74)],
        closed=True,
        mark=part == "battery",
        colour=None if part == "battery" else INK,
        fill="#ffffff",
    )
    page.text((29, 86), "battery")
    page.text((29, 62), "+ -")
    page.disc((82, 59), 15, mark=part in ("motor", "winding"), colour=None if part in ("motor", "winding") else INK, fill="#ffffff")
    page.text((82, 86), "motor")
    for y in (50, 68):
        page.line((44, y), (69, y), mark=part == "current", colour=None if part == "current" else INK)
    if part == "current":
        page.arrow((48, 42), (66, 42), mark=True)
    if part == "winding":
        page.path([(74 + 2 * n, 59 + (5 if n % 2 else -5)) for n in range(9)], mark=True)
    page.disc((134, 59), 24, colour=INK, width=3)
    page.disc((134, 59), 11, mark=part == "gear", colour=None if part == "gear" else INK)
    page.disc((82, 59), 5, mark=part == "gear", colour=None if part == "gear" else INK)
    page.line((82, 54), (134, 48), mark=part == "gear")
    page.line((82, 64), (134, 70), mark=part == "gear")


def _circle(page: Sketch, part: str) -> None:
    page.disc((85, 60), 42, mark=True)
    page.arrow((85, 60), (85, 28))
    page.text((90, 30), "ahead", anchor="start")
    page.arrow((85, 60), (58, 60))
    page.text((64, 72), "sideways")
    page.arrow((85, 60), (58, 28), mark=True)


def _dots(page: Sketch, part: str) -> None:
    page.arrow((20, 100), (160, 100), colour=INK)
    page.arrow((20, 100), (20, 12), colour=INK)
    page.line((24, 88), (150, 26), colour=OTHER, width=2)
    for x, off in ((34, -7), (50, 9), (66, 3), (82, -10), (98, 6), (114, -4), (130, 9), (144, -6)):
        y = 88 - (x - 24) * 62 / 126
        page.line((x, y), (x, y + off), mark=True)
        page.disc((x, y + off), 2.4, mark=True, fill="#ffffff")


def _rod_end(page: Sketch, part: str) -> None:
    page.disc((132, 58), 18, colour=INK, width=4)
    page.disc((132, 58), 7, colour=INK, fill="#ffffff")
    page.path([(62, 52), (114, 52), (114, 64), (62, 64)], closed=True, colour=INK)
    for x in range(66, 114, 5):
        page.line((x, 64), (x + 3, 52))
    page.path([(12, 46), (62, 46), (62, 70), (12, 70)], closed=True, colour=INK, fill="#e4e7ea")
    page.path([(64, 42), (74, 42), (74, 74), (64, 74)], closed=True, mark=True, fill="#f4d9c6")
    page.text((69, 90), "lock nut")
    page.text((30, 90), "rod")
    page.text((132, 92), "eye")


def _ladder(page: Sketch, part: str) -> None:
    for n in range(4):
        x, y = 30 + 36 * n, 94 - 20 * n
        page.line((x - 16, y + 12), (x + 16, y + 12), colour=INK)
        for dx in (0,) if n < 2 else (-6, 6):
            for dy, turn in ((-9, 14), (7, 0)):
                page.wheel((x + dx, y + dy - 4), turn, long=11, wide=4, mark=n % 2 == 1)


def _valley(page: Sketch, part: str) -> None:
    page.arrow((20, 100), (160, 100), colour=INK)
    page.arrow((20, 100), (20, 10), colour=INK)
    page.text((28, 14), "drive work", anchor="start")
    page.text((120, 112), "a free key")
    page.path([(x, 82 - ((x - 90) / 58) ** 2 * 52) for x in (32 + 116 * n / 40 for n in range(41))], colour=INK, width=2)
    page.disc((90, 82), 4, mark=True, fill="#ffffff")


def _trade(page: Sketch, part: str) -> None:
    page.arrow((20, 100), (160, 100), colour=INK)
    page.arrow((20, 100), (20, 10), colour=INK)
    for x, y in ((34, 28), (44, 46), (60, 62), (84, 74), (116, 82), (150, 86)):
        page.disc((x, y), 3, mark=True, fill="#ffffff")
    for x, y in ((70, 40), (100, 56), (130, 36), (90, 30)):
        page.disc((x, y), 2.4, colour=SOFT)


def _places(page: Sketch, part: str) -> None:
    for x, high, name, mark in ((40, 34, "2", False), (85, 54, "1", True), (130, 34, "2", False)):
        page.path(
            [(x - 20, 100), (x - 20, 100 - high), (x + 20, 100 - high), (x + 20, 100)],
            closed=True,
            mark=mark,
            fill="#f4d9c6" if mark else "#e4e7ea",
        )
        page.text((x, 92), name, bold=True)


SCENES: dict[str, Callable[[Sketch, str], None]] = {
    "plan": _plan, "linkage": _linkage, "bend": _bend, "wheel": _wheel, "front": _front, "side": _side, "hand": _hand, "tip": _tip,
    "curve": _curve, "relax": _relax, "bars": _bars, "bell": _bell, "track": _track, "speed": _speed, "circuit": _circuit,
    "circle": _circle, "dots": _dots, "rod end": _rod_end, "ladder": _ladder, "valley": _valley, "trade": _trade, "places": _places,
}  # fmt: skip
