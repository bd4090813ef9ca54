"""The floor template, read back from its PDF with a general PDF library: sizes, marks, letters, and the way of reading it."""

import ctypes
import errno
import hashlib
import re
import subprocess
import sys
from dataclasses import dataclass
from functools import cache
from io import StringIO
from math import atan, degrees, radians, tan

import numba
import numpy as np
import pypdfium2 as pdfium
import pypdfium2.raw as raw
import pytest
from rich.console import Console

from sim.bench.as_built import make_plan
from sim.bench.design import PLANS
from sim.bench.result import plan_lines, planned_readings
from sim.errors import InputError
from sim.linkages.pivots import rotated
from sim.scenario.file import check_scenario, find_scenario, load_scenario, shipped_names
from sim.steering.arrangement import build_steering
from sim.template.plan import plan_template
from sim.template.result import Worksheet
from viz.bench.numbers import bench_result
from viz.shared.checks import CAUTIONS, CHECKS, TURNTABLE_CHECKS
from viz.template import paper as template_paper
from viz.template.dial import dial_drawing
from viz.template.numbers import template_report, template_result
from viz.template.pages import build_pages
from viz.template.paper import BOLD, MARGIN, OVERLAP, PAPERS, cut_to, plain_settings, window_of, word_box
from viz.template.scale import TICKS, drawing
from viz.template.worksheet import plan_settings, plan_tables

POINT = 25.4 / 72  # [mm]
CAR = {
    "mass_kg": 145.0, "wheelbase_mm": 1500.0, "front_track_mm": 900.0, "rear_track_mm": 860.0, "kingpin_track_mm": 740.0,
    "mass_centre_behind_front_axle_mm": 820.0, "mass_centre_height_mm": 330.0, "yaw_inertia_kg_m2": 38.0, "wheel_radius_mm": 203.0,
    "drive": "one wheel left",
}  # fmt: skip
KINKED = {"arm_length_mm": 110.0, "arm_angle_deg": 13.9}
SETUPS = {
    "cross rod": {"linkage": "cross rod", **KINKED},
    "centre arm": {"linkage": "centre arm", **KINKED, "drop_arm_length_mm": 70.0, "drop_arm_behind_front_axle_mm": 107.0},
    "leaning": {"linkage": "cross rod", "kingpin_inclination_deg": 9.0, "caster_deg": 7.0, **KINKED},
    "toe": {"linkage": "ideal", "toe_in_deg": 2.0},
    "parallel": {"linkage": "parallel"},
    "reversed": {"linkage": "fraction", "fraction": -2.0},
    "rack": {
        "linkage": "rack",
        "arm_length_mm": 110.0,
        "arm_angle_deg": -166.0,
        "rack_behind_front_axle_mm": -107.0,
        "rack_length_mm": 300.0,
        "rack_mm_per_turn": 60.0,
        "hand_wheel_limit_deg": 400.0,
    },
    "short rods": {"linkage": "cross rod", "hand_wheel_limit_deg": 8.0, **KINKED},
    "middling rods": {"linkage": "cross rod", "hand_wheel_limit_deg": 18.0, **KINKED},
    "short lock": {"linkage": "parallel", "hand_wheel_limit_deg": 12.0},
    "hardly any lock": {"linkage": "ideal", "hand_wheel_limit_deg": 3.0},
    "turntable": {"pivot": "turntable", "linkage": None, "toe_in_deg": 1.0},
}
CARS = {"": {}, "no offset": {"kingpin_track_mm": 900.0}, "inside": {"kingpin_track_mm": 990.0}, "far out": {"kingpin_track_mm": 560.0}}
SLOW = pytest.mark.slow
CASES = [
    ("", "turntable", "letter"),
    *(pytest.param(*case, marks=SLOW) for case in (
        ("", "cross rod", "a4"), ("", "leaning", "a4"),
        ("", "short rods", "letter"), ("", "hardly any lock", "letter"),
        ("", "cross rod", "letter"), ("", "toe", "letter"), ("", "parallel", "a4"), ("", "reversed", "a4"), ("", "short lock", "a4"),
        ("", "turntable", "a4"), ("no offset", "parallel", "a4"), ("inside", "parallel", "letter"), ("far out", "parallel", "a4"),
        ("far out", "toe", "letter"),
    )),
]  # fmt: skip


def a_scenario(car="", *setups, title="A car"):
    tables = [{k: v for k, v in {"name": name, "pivot": "stub axles", **SETUPS[name]}.items() if v is not None} for name in setups]
    course = {"segments": [{"straight_m": 20.0}]}
    keys = {"title": title, "car": CAR | CARS[car], "course": course, "pace": {"target_m_per_s": 5.0}, "setup": tables}
    return check_scenario(keys, "tried.toml")


def scenario_keys():
    return {"title": "A car", "car": CAR, "course": {"segments": [{"straight_m": 20.0}]}, "pace": {"target_m_per_s": 5.0}}


def steering_of(scenario, index=0):
    return build_steering(scenario.setup[index], scenario.car, "tried.toml", f"setup[{index}]")


def readings_of(scenario, name="quick"):
    if not scenario.setup[0].kind.rods:
        return None
    if numba.config.DISABLE_JIT:  # half a minute each
        pytest.skip("too slow without the compiler")
    return planned_readings(scenario, 0, "tried.toml", name)


# --- Reading a PDF back --------------------------------------------------------------------------------------------------


@dataclass
class Read:
    """A page as read back: size [mm], lines (width [mm], points (n, 2) [mm]), and pieces of text with their boxes [mm]."""

    size: tuple[float, float]
    lines: list[tuple[float, np.ndarray]]
    texts: list[tuple[str, float, tuple[float, ...]]]  # words, size [pt], left, bottom, right, top
    words: str
    picture: np.ndarray  # grey values, 2 dots a mm, from the top


def read_back(path, pictures=True):
    document = pdfium.PdfDocument(path)
    return [_read_page(document[index], pictures) for index in range(len(document))]


def _read_page(page, pictures):
    lines, texts, size = [], [], ctypes.c_float()
    text_page = page.get_textpage()
    for item in page.get_objects():
        if item.type == raw.FPDF_PAGEOBJ_PATH:
            fill, stroke = ctypes.c_int(), ctypes.c_int()
            raw.FPDFPath_GetDrawMode(item.raw, fill, stroke)
            if stroke.value:
                assert item.get_matrix().get() == (1, 0, 0, 1, 0, 0)
                raw.FPDFPageObj_GetStrokeWidth(item.raw, size)
                lines += [(size.value * POINT, np.array(piece) * POINT) for piece in _pieces(item)]
        elif item.type == raw.FPDF_PAGEOBJ_TEXT:
            assert raw.FPDFFont_GetIsEmbedded(raw.FPDFTextObj_GetFont(item.raw)) == 1
            raw.FPDFTextObj_GetFontSize(item.raw, size)
            count = raw.FPDFTextObj_GetText(item.raw, text_page.raw, None, 0)
            letters = (ctypes.c_ushort * count)()
            raw.FPDFTextObj_GetText(item.raw, text_page.raw, letters, count)
            words = bytes(letters).decode("utf-16-le").rstrip("\0 ")
            texts.append((words, size.value, tuple(edge * POINT for edge in item.get_bounds())))
    picture = page.render(scale=2 * POINT, grayscale=True).to_numpy() if pictures else np.zeros((0, 0))
    picture = picture.reshape(picture.shape[:2]).copy()
    size_mm = tuple(edge * POINT for edge in page.get_size())
    return Read(size_mm, lines, texts, text_page.get_text_range(), picture)


def _pieces(item):
    pieces, x, y = [], ctypes.c_float(), ctypes.c_float()
    for index in range(raw.FPDFPath_CountSegments(item.raw)):
        segment = raw.FPDFPath_GetPathSegment(item.raw, index)
        raw.FPDFPathSegment_GetPoint(segment, x, y)
        if raw.FPDFPathSegment_GetType(segment) == raw.FPDF_SEGMENT_MOVETO:
            pieces.append([])
        pieces[-1].append((x.value, y.value))
    return pieces


@pytest.fixture(scope="module")
def printed(tmp_path_factory):
    """(result, pages as read back, sheets of the plan) of a car and a set-up on a paper."""
    folder = tmp_path_factory.mktemp("templates")

    @cache
    def make(car, name, paper):
        scenario = a_scenario(car, name)
        readings = readings_of(scenario)
        path = folder / f"{car}-{name}-{paper}.pdf"
        result = template_result(scenario, "tried.toml", None, path, paper)
        with plain_settings():
            _, sheets, _ = build_pages(plan_template(scenario.title, steering_of(scenario), scenario.car), readings, paper)
        return result, read_back(path), sheets

    return make


def on_scale(pages, sheets, paper, name):
    """All lines of a scale as if its sheets were joined: (width, points) about the pivot, to the right and up [mm]."""
    lines = []
    for sheet in sheets:
        if sheet.scale.name == name:
            window = window_of(paper, sheet.tiling.landscape)
            move = np.array([sheet.tile.box.left - window.left, sheet.tile.box.bottom - window.bottom])
            lines += [(width, points + move) for width, points in pages[sheet.page].lines]
    return lines


def ruler(turn_deg, along, beside, base_deg=0.0):
    """Points of a ruler's edge turned about the pivot, on paper: an own way of computing them, by complex numbers."""
    point = (np.asarray(along) + 1j * beside) * np.exp(1j * radians(turn_deg + base_deg))
    return np.stack([-point.imag, point.real], axis=-1)


def straight_pieces(lines, width, slack=1e-3):
    """Lines of two points and of one breadth (n, 2, 2) [mm]."""
    return np.array([points for one, points in lines if len(points) == 2 and abs(one - width) < slack])


def nearest(pieces, wanted):
    """How far the piece nearest to a wanted one (2, 2) is from it, and that piece, in the wanted one's direction."""
    both = np.concatenate([pieces, np.flip(pieces, axis=1)])
    gaps = np.abs(both - wanted).max(axis=(1, 2))
    best = int(np.argmin(gaps))
    return gaps[best], both[best]


# --- Paper ---------------------------------------------------------------------------------------------------------------


@pytest.mark.slow
@pytest.mark.parametrize("paper", PAPERS)
@pytest.mark.parametrize("name", ["cross rod", "turntable"])
def test_pages_have_the_paper_s_size(printed, name, paper):
    """ISO 216: 210 x 297 mm; letter: 8.5 x 11 in.  The library reads single precision, so 1e-4 mm."""
    short, long = {"a4": (210.0, 297.0), "letter": (8.5 * 25.4, 11 * 25.4), "a3": (297.0, 420.0)}[paper]
    result, pages, _ = printed("", name, paper)
    assert len(pages) == result.pages
    for page in pages:
        assert sorted(page.size) == pytest.approx([short, long], rel=0, abs=1e-4)


@pytest.mark.slow
@pytest.mark.target("T25", what="Every page at true size has check lines of 100 mm, across and along", asked="0.05 mm")
@pytest.mark.parametrize(("name", "paper"), [
    *((name, "a4") for name in ("centre arm", "turntable")),
    *(pytest.param(name, paper, marks=SLOW) for name in ("centre arm", "turntable") for paper in ("letter", "a3")),
])  # fmt: skip
def test_every_page_at_true_size_has_check_lines_of_100_mm(printed, name, paper):
    """The scales and the dial; what is only read or written on bears none."""
    result, pages, _ = printed("", name, paper)
    true_size = {number for scale in result.scales for number in scale.pages} | {result.dial_page} - {None}
    assert (result.dial_page is not None) == (name == "centre arm")
    for number, page in enumerate(pages, start=1):
        spans = [np.ptp(points, axis=0) for _, points in page.lines if len(points) == 2]
        for along, across in ((0, 1), (1, 0)):
            found = sum(abs(span[along] - 100.0) < 0.05 and span[across] < 0.001 for span in spans) >= 1
            assert found or number not in true_size
        assert page.words.count("this line is 100 mm long") == 2 * (number in true_size)
        assert ("another printer" in page.words.replace("\r\n", " ")) == (number in true_size)


SHIPPED = [(name, setup.name) for name in shipped_names() for setup in load_scenario(find_scenario(name)).setup if setup.kind.rods]


@pytest.mark.slow
@pytest.mark.compiled
@pytest.mark.parametrize(("scenario", "setup", "paper", "plan"), [
    (*one, paper, list(PLANS)[(number + place) % len(PLANS)]) for number, one in enumerate(SHIPPED) for place, paper in enumerate(PAPERS)
])  # fmt: skip
def test_all_text_of_shipped_cars_is_inside_the_page_and_says_whose_it_is(tmp_path, scenario, setup, paper, plan):
    loaded = load_scenario(find_scenario(scenario))
    result = template_result(loaded, scenario, setup, tmp_path / "sheets.pdf", paper, plan)
    pages = read_back(tmp_path / "sheets.pdf", pictures=False)
    assert len(pages) == result.pages
    for page in pages:
        assert inside(page)
        for words in ("team", "date", f'scenario "{loaded.title}"', f'set-up "{setup}"'):
            assert words in flat_words(page)


def inside(page):
    """Whether lines and words leave the margins free."""
    for width, points in page.lines:
        assert points.min() - width / 2 >= MARGIN - 0.5
        assert np.all(points.max(axis=0) + width / 2 <= np.array(page.size) - MARGIN + 0.5)
    for words, _, (left, bottom, right, top) in page.texts:
        assert min(left, bottom) >= MARGIN - 0.5, words
        assert right <= page.size[0] - MARGIN + 0.5, words
        assert top <= page.size[1] - MARGIN + 0.5, words
    return True


@pytest.mark.slow
@pytest.mark.parametrize(("car", "name", "paper"), CASES)
def test_nothing_is_drawn_in_the_margins(printed, car, name, paper):
    _, pages, _ = printed(car, name, paper)
    for page in pages:
        assert inside(page)
        edge = int(2 * (MARGIN - 0.5))
        inner = page.picture[edge:-edge, edge:-edge]
        assert page.picture.astype(int).sum() - inner.astype(int).sum() == 255 * (page.picture.size - inner.size)


@pytest.mark.slow
@pytest.mark.parametrize(("car", "name", "paper"), CASES)
def test_letters_are_large_enough_and_do_not_lie_on_each_other(printed, car, name, paper):
    _, pages, _ = printed(car, name, paper)
    for page in pages:
        assert min(size for _, size, _ in page.texts) >= 8.0
        left, bottom, right, top = np.array([box for *_, box in page.texts]).T
        over = np.minimum(
            np.minimum.outer(right, right) - np.maximum.outer(left, left), np.minimum.outer(top, top) - np.maximum.outer(bottom, bottom)
        )
        for one, other in np.argwhere(np.triu(over, 1) > 0.1):
            pytest.fail(f"{page.texts[one][0]!r} lies on {page.texts[other][0]!r}")


# --- Scales --------------------------------------------------------------------------------------------------------------


@pytest.mark.slow
@pytest.mark.target(
    "T25", what="Floor template read back from its PDF: scale marks, rays and bars",
    asked="0.05 mm in 100 mm; 0.02 degrees",
)  # fmt: skip
@pytest.mark.parametrize(("car", "name", "paper"), CASES)
def test_every_degree_s_mark_is_where_the_ruler_lies(printed, car, name, paper, within_target):
    """Scale and rays: 0.05 mm (so 0.05 mm in 100 mm) and 0.02 degrees, read back from the file."""
    result, pages, sheets = printed(car, name, paper)
    for scale in result.scales:
        lines = on_scale(pages, sheets, paper, scale.name)
        plan = next(sheet.scale for sheet in sheets if sheet.scale.name == scale.name)
        base, at = (90.0 if name == "turntable" else 0.0), plan.scale_at_mm
        side = -1.0 if scale.name.startswith("right") else 1.0
        beside = side * scale.ruler_outside_pivot_mm
        pieces = {width: straight_pieces(lines, width) for width in (0.18, 0.35)}
        for turn in range(int(scale.from_deg), int(scale.to_deg) + 1):
            length, width = (10.0, 0.35) if turn % 10 == 0 else (8.0, 0.35) if turn % 5 == 0 else (5.0, 0.18)
            feet = []
            for end in (1.0, -1.0):
                wanted = ruler(turn, [end * at, end * (at + length)], beside, base)
                gap, found = nearest(pieces[width], wanted)
                within_target(gap, at_most=0.05, of="marks [mm]")
                feet.append(found[0])
                ((right, up),) = np.diff(found, axis=0) * end
                within_target(abs(degrees(np.arctan2(-right, up)) - turn - base), at_most=0.02, of="rays [degrees]")
            # From end to end, as the ruler lies: the whole ray.
            right, up = feet[0] - feet[1]
            within_target(abs(degrees(np.arctan2(-right, up)) - turn - base), at_most=0.02, of="rays [degrees]")
            within_target(100 * abs(np.hypot(right, up) / (2 * at) - 1), at_most=0.05, of="length [mm in 100]")


@pytest.mark.slow
@pytest.mark.parametrize(("car", "name", "paper"), CASES)
def test_the_two_scales_of_a_sheet_do_not_meet(printed, car, name, paper):
    _, _, sheets = printed(car, name, paper)
    for scale in {sheet.scale.name: sheet.scale for sheet in sheets}.values():
        turns = np.linspace(scale.low_deg, scale.high_deg, 200)
        base = scale.along_deg
        fore, aft = (np.array([ruler(turn, end * scale.scale_at_mm, scale.beside_mm, base) for turn in turns]) for end in (1, -1))
        assert np.linalg.norm(fore[:, None] - aft[None], axis=-1).min() > 25.0


@pytest.mark.slow
@pytest.mark.parametrize(("car", "name", "paper"), CASES)
def test_every_number_and_letter_is_whole_on_some_sheet(printed, car, name, paper):
    result, pages, sheets = printed(car, name, paper)
    for scale in result.scales:
        plan = next(sheet.scale for sheet in sheets if sheet.scale.name == scale.name)
        found = []
        for sheet in sheets:
            if sheet.scale is plan:
                window = window_of(paper, sheet.tiling.landscape)
                for words, _, (left, bottom, right, top) in pages[sheet.page].texts:
                    middle = np.array([(left + right) / 2 - window.left, (bottom + top) / 2 - window.bottom])
                    found.append((words.strip("−"), middle + np.array([sheet.tile.box.left, sheet.tile.box.bottom])))
        wanted = [(str(abs(turn)), turn, 16.0) for turn in range(plan.low_deg, plan.high_deg + 1, 5)]
        wanted += [(mark.letter, mark.angle_deg, -13.0) for mark in plan.planned]
        wanted += [(mark.letter, mark.angle_deg, -31.5) for mark in plan.ideal]
        for words, turn, outwards in wanted:
            for end in (1.0, -1.0):
                spot = ruler(turn, end * (plan.scale_at_mm + outwards), plan.beside_mm, plan.along_deg)
                # A minus sign stands to the left, so the digits' middle is not the number's.
                assert any(one == words and np.abs(middle - spot).max() < 2.5 for one, middle in found), (words, turn)


@pytest.mark.parametrize(("car", "name", "paper"), [case for case in CASES if isinstance(case, tuple)] + [
    pytest.param("", name, paper, marks=SLOW) for name in ("centre arm", "rack") for paper in PAPERS
])  # fmt: skip
def test_what_a_joint_runs_through_is_whole_on_both_sheets(printed, car, name, paper):
    """One sheet is cut along the line and laid on the other: each gives half of the number."""
    _, pages, sheets = printed(car, name, paper)
    for scale in {sheet.scale.name: sheet.scale for sheet in sheets}.values():
        parts = [sheet for sheet in sheets if sheet.scale is scale]
        for word in drawing(scale)[1]:
            box = word_box(word)
            for sheet in parts:
                for number, upright, at in sheet.tiling.joints(sheet.tile):
                    low, high = (box.left, box.right) if upright else (box.bottom, box.top)
                    beside = (box.bottom, box.top) if upright else (box.left, box.right)
                    tile = sheet.tile.box
                    reach = (tile.bottom, tile.top) if upright else (tile.left, tile.right)
                    if low < at < high and reach[0] <= beside[0] and beside[1] <= reach[1]:
                        assert word.text.strip("\N{MINUS SIGN}") in pages[sheet.page].words, (word.text, number)
                        assert tile.left <= box.left
                        assert box.right <= tile.right
                        assert tile.bottom <= box.bottom
                        assert box.top <= tile.top


@pytest.mark.parametrize("wide", [4.0, 9.9, 18.0, 60.0])
@pytest.mark.parametrize("paper", PAPERS)
def test_no_word_is_cut_where_sheets_are_joined(paper, wide):
    """Words so close that joints must run through some, and one that is longer than two sheets share: it stands clear of every joint."""
    corners = [(x + 0.7 * y % 12, y + 0.3 * x % 5) for x in np.arange(0.0, 400.0, 12.0) for y in np.arange(0.0, 410.0, 5.0)]  # in no rows
    small = [template_paper.Box(x, y, x + min(wide, 9.9), y + 4.0) for x, y in corners]
    boxes = [*small, template_paper.Box(200.0, 100.0, 200.0 + wide, 104.0)]
    tiling = template_paper.tile(template_paper.Box(0.0, 0.0, 430.0, 424.0), boxes, paper)
    assert tiling.joint_count >= 2
    crossed = 0
    for box in boxes:
        holders = [part for part in tiling.tiles if part.box.left <= box.left and box.right <= part.box.right
                   and part.box.bottom <= box.bottom and box.top <= part.box.top]  # fmt: skip
        assert holders
        for part in tiling.tiles:
            for _, upright, at in tiling.joints(part):
                through = box.left < at < box.right if upright else box.bottom < at < box.top
                if through:
                    crossed += 1
                    assert len(holders) >= 2
    assert crossed


@pytest.mark.slow
@pytest.mark.parametrize(("car", "paper"), [("", "a4"), pytest.param("far out", "a4", marks=SLOW)])
def test_sheets_share_their_crosses_and_the_pivot_is_one_point(printed, car, paper):
    """Joined by their crosses, sheets lie as planned: each joint's two crosses stand at the same places of both sheets."""
    _, pages, sheets = printed(car, "parallel" if car else "cross rod", paper)
    first = 1
    for name in ("left front wheel", "right front wheel"):
        parts = [sheet for sheet in sheets if sheet.scale.name == name]
        rings = [np.ptp(points, axis=0) / 2 + points.min(axis=0) for _, points in on_scale(pages, sheets, paper, name) if len(points) == 37]
        assert rings
        assert np.abs(rings[0]).max() < 0.001
        joints = [(sheet, number, upright, place) for sheet in parts for number, upright, place in sheet.tiling.joints(sheet.tile)]
        assert {number for _, number, _, _ in joints} == set(range(parts[0].tiling.joint_count))
        assert parts[0].tiling.joint_count >= 2
        for sheet, number, upright, place in joints:
            lines = on_scale(pages, [sheet], paper, name)
            crosses = [p.mean(axis=0) for p in straight_pieces(lines, 0.25) if np.ptp(p, axis=0) == pytest.approx((8, 0), rel=0, abs=0.001)]
            crosses = sorted(tuple(cross) for cross in crosses if abs(cross[0 if upright else 1] - place) < 0.001)
            assert len(crosses) == 2
            partners = [other for other, same, *_ in joints if same == number and other is not sheet
                        and (other.tile.row == sheet.tile.row if upright else other.tile.column == sheet.tile.column)]  # fmt: skip
            assert partners
            for partner in partners:
                theirs = [p.mean(axis=0) for p in straight_pieces(on_scale(pages, [partner], paper, name), 0.25)
                          if np.ptp(p, axis=0) == pytest.approx((8, 0), rel=0, abs=0.001)]  # fmt: skip
                for cross in crosses:
                    assert min(np.abs(one - cross).max() for one in theirs) < 0.001
            assert f"join {first + number} to {first + number}" in pages[sheet.page].words
        first += parts[0].tiling.joint_count


# --- Target marks --------------------------------------------------------------------------------------------------------


def bar_angles(lines, scale_at, beside, base=0.0):
    """Angles of the bold bars at the forward end, each found from the drawn bar alone [degrees], rising."""
    angles = []
    for points in straight_pieces(lines, BOLD):
        if np.hypot(*np.ptp(points, axis=0)) < 6.99:  # cut at a sheet's edge; the neighbour has it whole
            continue
        inner, outer = sorted(points, key=lambda point: np.hypot(*point))
        right, up = outer - inner
        turn = degrees(np.arctan2(-right, up)) - base
        turn = (turn + 180) % 360 - 180
        if abs(turn) < 90:
            foot = ruler(turn, scale_at - 1.0, beside, base)
            assert np.abs(foot - outer).max() < 0.1
            angles.append(turn)
    return np.unique(np.round(angles, 3))  # a bar in an overlap is on two sheets


@pytest.mark.target(
    "T25", what="Floor template read back from its PDF: scale marks, rays and bars",
    asked="0.05 mm in 100 mm; 0.02 degrees",
)  # fmt: skip
@pytest.mark.parametrize("name", ["cross rod", "leaning", *(pytest.param(one, marks=SLOW) for one in ("centre arm", "toe", "reversed"))])
def test_bars_stand_at_the_planned_angles(printed, name, within_target):
    """The linkage's own angles, found by bisection of the hand angle; 0.02 degrees, which is 0.05 mm."""
    result, pages, sheets = printed("", name, "a4")
    steering = steering_of(a_scenario("", name))

    def wheels(hand):
        return steering.front_wheels(np.array([hand])).steer[0]

    wanted = {"left front wheel": [wheels(0.0)[0]], "right front wheel": [wheels(0.0)[1]]}
    for turn, sign, outer_side, end in (("left", 1, 1, steering.lock_left), ("right", -1, 0, steering.lock_right)):
        letters = [pair for pair in result.pairs if pair.turn == turn]
        assert [pair.letter for pair in letters] == list("ABCDEFG")[: len(letters)]
        assert len(letters) >= 5
        for step in range(1, len(letters) + 1):
            low, high = 0.0, end
            for _ in range(30):  # to 1e-9 of the range
                middle = (low + high) / 2
                low, high = (middle, high) if sign * wheels(middle)[outer_side] < radians(5 * step) else (low, middle)
            for side, wheel in enumerate(wanted):
                wanted[wheel].append(wheels(low)[side])
    for wheel, angles in wanted.items():
        plan = next(sheet.scale for sheet in sheets if sheet.scale.name == wheel)
        drawn = bar_angles(on_scale(pages, sheets, "a4", wheel), plan.scale_at_mm, plan.beside_mm)
        expected = np.unique(np.round(np.degrees(angles), 3))
        for angle in expected:
            within_target(np.abs(drawn - angle).min(), at_most=0.02, of="rays [degrees]")
        for angle in drawn:
            assert np.abs(expected - angle).min() < 0.02


@pytest.mark.parametrize("name", ["cross rod", pytest.param("toe", marks=SLOW)])
def test_rings_stand_at_the_ideal_angles(printed, name):
    """cot inner = cot outer - kingpin track / wheelbase, worked here with the car's numbers, at both ends of both wheels."""
    result, pages, sheets = printed("", name, "a4")
    for wheel, turn, sign in (("left front wheel", "left", 1), ("right front wheel", "right", -1)):
        plan = next(sheet.scale for sheet in sheets if sheet.scale.name == wheel)
        lines = on_scale(pages, sheets, "a4", wheel)
        rings = [points for _, points in lines if len(points) == 25]
        pairs = [pair for pair in result.pairs if pair.turn == turn]
        assert len(pairs) >= 5
        for step, pair in enumerate(pairs, start=1):
            ideal = sign * degrees(atan(1 / (1 / tan(radians(5 * step)) - 740 / 1500)))
            assert pair.ideal_inner_deg == pytest.approx(ideal, rel=0, abs=1e-9)
            for end in (1.0, -1.0):
                spot = ruler(ideal, end * (plan.scale_at_mm - 23.0), plan.beside_mm)
                assert min(np.abs(points[:-1].mean(axis=0) - spot).max() for points in rings) < 0.1
                line = ruler(ideal, [end * (plan.scale_at_mm - 27.0), end * (plan.scale_at_mm - 19.0)], plan.beside_mm)
                assert nearest(straight_pieces(lines, 0.25), line)[0] < 0.1


@pytest.mark.slow
def test_a_mirrored_car_has_mirrored_marks(tmp_path):
    """One rod end turned on the left side, then on the right one."""
    marks = []
    for side in ("left", "right"):
        scenario = a_scenario("", "centre arm")
        setup = scenario.setup[0].model_copy(update={f"rod_turns_{side}": 2.0})
        scenario = scenario.model_copy(update={"setup": (setup,)})
        path = tmp_path / f"{side}.pdf"
        result = template_result(scenario, "tried.toml", None, path, "a4")
        with plain_settings():
            _, sheets, _ = build_pages(plan_template("", steering_of(scenario), scenario.car), readings_of(scenario), "a4")
        pages = read_back(path)
        for wheel in ("left front wheel", "right front wheel"):
            lines = on_scale(pages, sheets, "a4", wheel)
            plan = next(sheet.scale for sheet in sheets if sheet.scale.name == wheel)
            marks.append(bar_angles(lines, plan.scale_at_mm, plan.beside_mm))
        assert result.straight_ahead.left_deg != pytest.approx(0.0, rel=0, abs=0.1) or side == "right"
    left_of_one, right_of_one, left_of_other, right_of_other = marks
    assert left_of_one == pytest.approx(-right_of_other[::-1], rel=0, abs=0.002)
    assert right_of_one == pytest.approx(-left_of_other[::-1], rel=0, abs=0.002)
    assert left_of_one != pytest.approx(left_of_other, rel=0, abs=0.1)


# --- Reading -------------------------------------------------------------------------------------------------------------


def reading(feet, turns, point, direction):
    """What a scale shows where a line crosses its arc.

    feet (n, 2) : the marks' feet as drawn; turns (n,) : what they say; the line through `point` crosses the arc, a circle
    about the pivot, on the side of `direction`
    """
    radius = np.hypot(*feet.T).mean()
    along = -point @ direction + np.sqrt((point @ direction) ** 2 - point @ point + radius**2)
    crossing = point + along * direction
    around = np.unwrap(np.arctan2(feet[:, 1], feet[:, 0]))
    place = np.arctan2(crossing[1], crossing[0])
    place += 2 * np.pi * np.round((around.mean() - place) / (2 * np.pi))
    assert around[0] - 1e-9 <= place <= around[-1] + 1e-9, "the line misses the scale"
    return np.interp(place, around, turns)


@pytest.mark.parametrize("displaced", [(0.0, 0.0), (3.0, -4.0)])
@pytest.mark.parametrize("further_out", [-8.0, 0.0, 8.0])
@pytest.mark.parametrize("name", ["cross rod", "leaning"])
def test_the_mean_of_both_ends_is_the_wheel_s_angle(printed, name, further_out, displaced):
    """A straight edge is held level at the hub against the wheel's outer side and plumbed to the floor, for wheels in space.

    It may lie some millimetres further out than planned and the sheet beside its place; the mean still is the angle, while
    one end alone is wrong by degrees.
    """
    _, pages, sheets = printed("", name, "a4")
    steering = steering_of(a_scenario("", name))
    one_end = []
    for side, wheel in enumerate(("left front wheel", "right front wheel")):
        plan = next(sheet.scale for sheet in sheets if sheet.scale.name == wheel)
        lines = np.concatenate([straight_pieces(on_scale(pages, sheets, "a4", wheel), width) for width in (0.18, 0.35)])
        turns = np.arange(plan.low_deg, plan.high_deg + 1)
        feet = {}
        for end in (1.0, -1.0):
            lengths = [10.0 if turn % 10 == 0 else 8.0 if turn % 5 == 0 else 5.0 for turn in turns]
            at = plan.scale_at_mm
            wanted = [ruler(t, [end * at, end * (at + length)], plan.beside_mm) for t, length in zip(turns, lengths, strict=True)]
            feet[end] = np.array([nearest(lines, one)[1][0] for one in wanted])
        front = steering.wheels[side]
        kingpin = front.axis_at(0.203)
        outwards = 1.0 if side == 0 else -1.0
        for hand in np.radians([-28.0, -13.7, 0.0, 9.1, 24.0, 33.0]):
            swing = steering.front_wheels(np.array([hand])).swing[:, side]
            steer = degrees(steering.front_wheels(np.array([hand])).steer[0, side])
            spin = rotated(front.spin, front.axis, swing)[0]
            centre = front.axis_point + rotated(front.centre - front.axis_point, front.axis, swing)[0]
            on_edge = 1e3 * (centre - kingpin) + outwards * (25.0 + further_out) * spin
            level = np.array([spin[1], -spin[0]]) / np.hypot(spin[0], spin[1])
            point = np.array([-on_edge[1], on_edge[0]]) - displaced
            direction = np.array([-level[1], level[0]])
            fore = reading(feet[1.0], turns, point, direction)
            aft = reading(feet[-1.0], turns, point, -direction)
            assert (fore + aft) / 2 == pytest.approx(steer, rel=0, abs=0.05)
            one_end.append(abs(fore - steer))
            if further_out == 0 and displaced == (0.0, 0.0):  # as planned: both ends say nearly the same, upright kingpins the same
                assert fore == pytest.approx(steer, rel=0, abs=0.05 if name == "cross rod" else 1.0)
    if further_out:
        assert max(one_end) > 2.0


@pytest.mark.slow
def test_turntable_has_one_scale_read_across_the_car(printed):
    result, pages, sheets = printed("", "turntable", "a4")
    (scale,) = result.scales
    assert (scale.name, scale.ruler_outside_pivot_mm) == ("front axle", 0.0)
    drawn = bar_angles(on_scale(pages, sheets, "a4", "front axle"), 150.0, 0.0, base=90.0)
    assert drawn == pytest.approx([-35.0 + 1.0, *range(-29, 0, 5), 0.0, *range(1 + 3, 30, 5), 34.0], rel=0, abs=0.02)
    assert result.placing.to_rear_tyre_mm == pytest.approx(np.hypot(1500, 430), rel=1e-12, abs=0)
    assert "kingpin" not in " ".join(page.words for page in pages[:-1])


# --- The other pages -----------------------------------------------------------------------------------------------------


def flat_words(page):
    return re.sub(r"\s+", " ", page.words)


def test_distances_by_hand(printed):
    """Kingpins 740 mm apart; to the rear tyres hypot(1500, (860 -+ 740)/2); leaning ones are nearer to each other at hub height."""
    result, pages, _ = printed("", "cross rod", "a4")
    placing = result.placing
    assert placing.pivots_apart_mm == pytest.approx(740.0, rel=1e-12, abs=0)
    assert placing.to_rear_tyre_mm == pytest.approx(1501.1995, rel=0, abs=1e-4)
    assert placing.diagonal_mm == pytest.approx(1700.0, rel=1e-12, abs=0)
    for figure in ("740 mm apart", "1501 mm", "Both diagonals: 1700 mm"):
        assert figure in flat_words(pages[0])
    for figure in ("740 mm", "1501 mm", "1700 mm, both diagonals", "Where the ends are sighted"):
        assert figure in flat_words(pages[1])
    apart = 740 - 2 * 203 * tan(radians(9))
    leaning = printed("", "leaning", "a4")[0].placing
    assert leaning.pivots_apart_mm == pytest.approx(apart, rel=1e-12, abs=0)
    assert leaning.diagonal_mm == pytest.approx(np.hypot(1500, (860 + apart) / 2), rel=1e-12, abs=0)


def worksheets(pages):
    return [page for page in pages if page.words.startswith("Worksheet")]


def line_cells(page):
    """The numbers of the lines that a worksheet prints, from the top, each with what stands beside it."""
    numbers = [(words, box) for words, _, box in page.texts if box[0] < 19 and words.isdigit()]
    column = sorted(((round(top, 1), left, words) for words, (left, _, _, top) in numbers), reverse=True)
    found = []
    for height, left, number in column:
        beside = sorted((x, words) for words, _, (x, _, _, top) in page.texts if x > left and abs(top - height) < 2.5)
        found.append((int(number), " ".join(words for _, words in beside)))
    return found


@pytest.mark.slow
@pytest.mark.compiled
@pytest.mark.parametrize(("name", "paper"), [
    ("centre arm", "a4"),
    *(pytest.param(*case, marks=SLOW) for case in (("cross rod", "a4"), ("rack", "letter"), ("short rods", "a4"))),
])  # fmt: skip
def test_worksheet_asks_for_the_plan_s_lines(printed, name, paper):
    """It once asked for forty pairs of wheel angles, which name no part."""
    readings = readings_of(a_scenario("", name))
    lines = plan_lines(readings)
    result, pages, _ = printed("", name, paper)
    cells = [cell for page in worksheets(pages) for cell in line_cells(page)]
    assert [number for number, _ in cells] == list(range(1, len(lines) + 1))
    assert result.worksheet == Worksheet("quick", len(lines), readings.columns, readings.minutes)
    words = " ".join(flat_words(page) for page in worksheets(pages))
    for column in (*readings.columns, "rim_mm"):
        assert column in words
    for (_, beside), item in zip(cells, lines, strict=True):
        if "left_deg" in item.columns:
            hand = item.hand_deg
            assert (f"{abs(hand):.1f} deg {'left' if hand > 0 else 'right'}" if hand else "straight ahead") in beside
    for need in ("two people", "spirit level", "string", "chalk", "tape measure", "plumb bob", f"about {readings.minutes:.0f} minutes"):
        assert need in flat_words(pages[0])


@pytest.mark.compiled
@pytest.mark.parametrize(("name", "plan"), [("centre arm", "quick"), ("cross rod", "full")])
def test_each_table_of_the_worksheet_is_a_table_for_bench(name, plan, tmp_path):
    """What the tables' bold columns ask for, read at the car as drawn and written into a file for each table, is what `bench` takes."""
    scenario = a_scenario("", name)
    built = make_plan(scenario.setup[0], scenario.car, "tried.toml", "setup[0]")
    readings = readings_of(scenario, plan)
    tables = plan_tables(readings, plan_template("", built.steering, scenario.car), 190.0)
    value = {"string": 300.0, "toe": 800.0, "threads": 0.0, "drop": 0.0}
    files = []
    for table in tables:
        columns = [name for name, _, filed in table.columns if filed]
        own = [item for item in plan_lines(readings) if list(item.columns) == columns]
        assert len(own) == len(table.rows)
        rows = []
        for item in own:
            hand = radians(item.hand_deg or 0.0)
            left, right = np.degrees(built.steering.front_wheels(np.array([hand])).steer[0])
            rods = dict(zip(("rod_left_mm", "rod_right_mm"), 1e3 * np.resize(built.rod_lengths, 2), strict=True))
            known = rods | {"rod_mm": 1e3 * built.rod_lengths[0], "left_deg": left, "right_deg": right, "hand_deg": degrees(hand)}
            rows.append(",".join(f"{known.get(column, value.get(column.split('_')[0]))}" for column in columns))
        files.append(tmp_path / f"{len(files)}.csv")
        files[-1].write_text("\n".join([",".join(columns), *rows]) + "\n")
    result = bench_result(scenario, "tried.toml", files, None)
    assert result.advice.now.total_toe_in_deg == pytest.approx(0.0, rel=0, abs=0.01)
    assert not any(rod.turns for rod in result.advice.rods)


@pytest.mark.compiled
def test_wheel_angles_are_read_in_rounds():
    """Between two readings of a setting the hand wheel goes elsewhere, while there is somewhere else to go."""
    lines = [item.hand_deg for item in plan_lines(readings_of(a_scenario("", "centre arm"), "full")) if "left_deg" in item.columns]
    settings = dict.fromkeys(lines)
    assert len(settings) == 5
    assert lines[:5] == list(settings)
    assert lines[5:7] == lines[:2]


# --- The dial ------------------------------------------------------------------------------------------------------------


def dial_lines(result, pages, paper):
    """Lines of the dial about its middle, as a ring's centre gives it [mm]."""
    lines = pages[result.dial_page - 1].lines
    rings = [points for _, points in lines if len(points) == 181 and np.ptp(points[:, 0]) > 150]
    middle = (rings[0].max(axis=0) + rings[0].min(axis=0)) / 2
    return [(width, points - middle) for width, points in lines], middle


@pytest.mark.parametrize(("name", "paper"), [("centre arm", "a4"), *(pytest.param("rack", paper, marks=SLOW) for paper in PAPERS)])
def test_dial_is_true_and_turns_the_right_way(printed, name, paper):
    """As the driver sees it: turned with the hand wheel, anticlockwise for a left turn, each mark comes to the pointer above; 0.1 mm."""
    result, pages, _ = printed("", name, paper)
    lines, _ = dial_lines(result, pages, paper)
    ticks = [points for width, points in lines if len(points) == 2 and width < 0.4 and 65.9 < np.hypot(*points.T).min() < 66.1]
    feet = np.array([min(points, key=lambda point: np.hypot(*point)) for points in ticks])
    steering = steering_of(a_scenario("", name))
    low, high = degrees(steering.lock_right), degrees(steering.lock_left)
    for hand in range(int(max(low, -179)), int(min(high, 179)) + 1):
        anticlockwise = np.exp(1j * radians(hand))
        turned = (feet[:, 0] + 1j * feet[:, 1]) * anticlockwise
        assert np.abs(turned - 66j).min() < 0.1
    bars = [points for width, points in lines if len(points) == 2 and abs(width - BOLD) < 1e-3]
    for hand in [0.0, *(pair.hand_deg for pair in result.pairs)]:
        outer = np.array([max(points, key=lambda point: np.hypot(*point)) for points in bars])
        assert np.abs((outer[:, 0] + 1j * outer[:, 1]) * np.exp(1j * radians(hand)) - 65j).min() < 0.1
    # Beyond half a turn a place on the dial has two meanings, so the angle stands beside the letter.
    page = pages[result.dial_page - 1]
    letters, digits = [words.strip() for words, *_ in page.texts], re.sub(r"\D+", " ", page.words).split()  # signs are pieces of their own
    for pair in result.pairs:
        assert any(words.split()[:1] == [pair.letter] for words in letters)
        assert abs(pair.hand_deg) <= 180 or f"{abs(pair.hand_deg):.0f}" in digits


@pytest.mark.slow
@pytest.mark.compiled
@pytest.mark.parametrize("limit", [40.0, 170.0, 500.0, 1080.0])
def test_words_on_the_dial_do_not_lie_on_each_other(limit):
    rack = SETUPS["rack"] | {"hand_wheel_limit_deg": limit, "rack_mm_per_turn": 60.0 if limit < 600 else 20.0}
    tables = check_scenario({**scenario_keys(), "setup": [{"name": "rack", "pivot": "stub axles", **rack}]}, "tried.toml")
    plan = plan_template("", steering_of(tables), tables.car)
    settings = plan_settings(readings_of(tables, "full"))
    assert {one.hand_deg for one in settings} == {
        item.hand_deg for item in readings_of(tables, "full").items if "left_deg" in item.columns
    }  # fmt: skip
    _, words, box = dial_drawing(plan, settings)
    boxes = [word_box(word) for word in words]
    for index, one in enumerate(boxes):
        assert max(abs(edge) for edge in (one.left, one.right, one.bottom, one.top)) < box.right
        for other in boxes[index + 1 :]:
            apart = max(one.left - other.right, other.left - one.right, one.bottom - other.top, other.bottom - one.top)
            assert apart > -0.1


@pytest.mark.parametrize("name", ["cross rod", "turntable"])
def test_no_dial_where_the_hand_angle_is_not_the_hand_wheel_s(printed, name):
    result, pages, _ = printed("", name, "a4")
    assert result.dial_page is None
    assert not any("Dial" in page.words for page in pages)


@pytest.mark.slow
@pytest.mark.parametrize("name", ["parallel", "turntable"])
def test_without_rods_the_worksheet_asks_for_no_file(printed, name):
    _, pages, _ = printed("", name, "a4")
    (sheet,) = worksheets(pages)
    assert "nothing here can be fitted" in flat_words(sheet)
    for word in ("left_deg", "CSV", "--type"):
        assert word not in sheet.words
    assert "`bench` has no rods to fit here" in " ".join(text_of(printed("", name, "a4")[0]).split())


@pytest.mark.slow
@pytest.mark.parametrize(("name", "checks"), [("cross rod", CHECKS), ("turntable", TURNTABLE_CHECKS)])
def test_checks_and_cautions_are_printed_whole(printed, name, checks):
    _, pages, _ = printed("", name, "letter")
    words = flat_words(pages[-1])
    for check in checks:
        assert check.action in words
        assert check.part in words.lower()
    assert words.count("common practice") == len(checks)
    for caution in CAUTIONS:
        assert caution in words
    if checks is TURNTABLE_CHECKS:
        told = " ".join(check.action for check in checks)
        for foreign in ("kingpin", " rod", "lock nut", "come in line"):
            assert foreign not in told.lower()
        return
    for need in ("kingpin", "greased", "lock nuts", "pins", "both locks", "spin"):
        assert need in words.lower()
    for need in ("pinch", "stands", "competent adult", "event come first", "never certifies"):
        assert need in " ".join(CAUTIONS)


@pytest.mark.slow
def test_names_with_odd_signs(tmp_path):
    scenario = a_scenario("", "parallel", title="Größe — 轮胎 x$^2$ \N{HEBREW LETTER ALEF}" + "W" * 55)
    setup = scenario.setup[0].model_copy(update={"name": "x$_a$ 轮 " + "W" * 70})
    scenario = scenario.model_copy(update={"setup": (setup,)})
    template_result(scenario, "tried.toml", None, tmp_path / "odd.pdf", "letter")
    for page in read_back(tmp_path / "odd.pdf"):
        for _, _, (left, _, right, _) in page.texts:
            assert left >= MARGIN - 0.5
            assert right <= page.size[0] - MARGIN + 0.5


# --- The file and the report ---------------------------------------------------------------------------------------------

WRITE = """
import sys
from pathlib import Path
from sim.scenario.file import find_scenario, load_scenario
from viz.template.numbers import template_result
template_result(load_scenario(find_scenario("car-park")), "car-park", None, Path(sys.argv[1]), "a4")
"""


@pytest.mark.slow
def test_same_bytes_in_every_process(tmp_path, monkeypatch):
    from sim.scenario.file import find_scenario, load_scenario

    path = tmp_path / "one.pdf"
    template_result(load_scenario(find_scenario("car-park")), "car-park", None, path, "a4")
    first = path.read_bytes()
    monkeypatch.setenv("PYTHONHASHSEED", "12345")
    monkeypatch.setenv("SOURCE_DATE_EPOCH", "86400")
    subprocess.run([sys.executable, "-c", WRITE, str(tmp_path / "two.pdf")], check=True)
    assert hashlib.sha256(first).hexdigest() == hashlib.sha256((tmp_path / "two.pdf").read_bytes()).hexdigest()
    assert b"CreationDate" not in first
    assert b"/Type3" not in first


@pytest.mark.slow
def test_the_user_s_own_plot_settings_change_nothing(tmp_path):
    import matplotlib

    scenario = a_scenario("", "parallel")
    template_result(scenario, "tried.toml", None, tmp_path / "one.pdf", "a4")
    with matplotlib.rc_context({"savefig.bbox": "tight", "pdf.fonttype": 3, "figure.autolayout": True, "path.simplify": True}):
        template_result(scenario, "tried.toml", None, tmp_path / "two.pdf", "a4")
    assert (tmp_path / "one.pdf").read_bytes() == (tmp_path / "two.pdf").read_bytes()


def test_a_failed_write_leaves_the_old_file(tmp_path, monkeypatch):
    path = tmp_path / "old.pdf"
    path.write_bytes(b"as before")

    def full(stream, pages, title):
        stream.write(b"half of it")
        raise OSError(errno.ENOSPC, "No space left on device")

    monkeypatch.setattr(template_paper, "write_pdf", full)
    with pytest.raises(InputError, match="can't be written"):
        template_result(a_scenario("", "parallel"), "tried.toml", None, path, "a4")
    assert path.read_bytes() == b"as before"
    assert [file.name for file in tmp_path.iterdir()] == ["old.pdf"]


@pytest.mark.slow
def test_which_set_up_is_taken(tmp_path):
    path = tmp_path / "a.pdf"
    result = template_result(a_scenario("", "parallel", "centre arm", "cross rod"), "t", None, path, "a4")
    assert (result.setup, result.setup_named) == ("centre arm", False)
    assert "the first set-up with rods to set; --setup chooses another" in text_of(result)
    result = template_result(a_scenario("", "parallel"), "t", None, path, "a4")
    assert result.setup == "parallel"
    assert "the first set-up, since none has rods or a turntable" in text_of(result)
    result = template_result(a_scenario("", "parallel", "turntable"), "t", None, path, "a4")
    assert result.setup == "turntable"
    assert "the first turntable axle; --setup chooses another" in text_of(result)
    result = template_result(a_scenario("", "turntable", "parallel"), "t", "PARALLEL", path, "a4")
    assert (result.setup, result.setup_named) == ("parallel", True)
    assert "--setup" not in text_of(result)


def text_of(result):
    console = Console(file=StringIO(), width=160)
    for one in template_report(result):
        console.print(one)
    return console.file.getvalue()


@pytest.mark.slow
def test_report_in_words(printed):
    text = text_of(printed("", "cross rod", "a4")[0])
    assert "11 pages, a4" in text
    assert "The worksheet asks for the 13 lines of the quick plan, about 10 minutes" in text
    assert "Page 9 is a dial for the hand wheel, to cut out." in text_of(printed("", "centre arm", "a4")[0])
    assert "dial" not in text
    assert "measure the 100 mm lines before you trust a sheet" in text
    assert re.search(r"^D\s+left\s+22.22\s+20.00\s+22.22\s+23.92\s+-1.70$", text, re.MULTILINE)
    assert "No pair in either turn for 35 deg of the outer wheel: beyond the lock or the sheet." in text
    assert "Kingpins of the sheets: 740 mm apart, each 1501 mm to the rear tyre on its side, 1700 mm to the other." in text
    assert "never certifies a car as safe" in text
    assert "Pivot of the sheet: 1560 mm from the middle of either rear tyre." in text_of(printed("", "turntable", "a4")[0])
    assert "There are none: the steering locks before 5 degrees." in text_of(printed("", "hardly any lock", "a4")[0])


@pytest.mark.compiled
@pytest.mark.parametrize(("setup", "out", "paper", "line"), [
    ("paralel", "a.pdf", "a4", 't: --setup: there is no set-up "paralel"; did you mean "parallel"?'),
    ("zzz", "a.pdf", "a4", 't: --setup: there is no set-up "zzz"; choose one of 1 "parallel", 2 "cross rod"'),
    (None, "a.pdf", "a5", "--paper: 'a5' is not known here; choose one of a4, letter, a3"),
    (None, "a.png", "a4", "OUT: the name does not end in .pdf; call it a.pdf"),
    pytest.param(None, "folder.pdf", "a4", "OUT: this is a folder; choose another name", marks=SLOW),
    pytest.param(
        None, "none/a.pdf", "a4", "OUT: the file can't be written (No such file or directory); check the folder and its rights", marks=SLOW
    ),
])  # fmt: skip
def test_refusals(tmp_path, setup, out, paper, line):
    (tmp_path / "folder.pdf").mkdir()
    with pytest.raises(InputError) as refused:
        template_result(a_scenario("", "parallel", "cross rod"), "t", setup, tmp_path / out, paper)
    assert str(refused.value) == line.replace("OUT", str(tmp_path / out))


def test_a_wheel_far_outside_its_kingpin_is_refused(tmp_path):
    scenario = a_scenario("", "parallel")
    scenario = scenario.model_copy(update={"car": scenario.car.model_copy(update={"kingpin_track_mm": 540.0})})
    with pytest.raises(InputError) as refused:
        template_result(scenario, "t.toml", None, tmp_path / "a.pdf", "a4")
    assert str(refused.value) == (
        "t.toml: car.kingpin_track_mm: the wheel's outer side stands 205 mm from its kingpin, too far for a template; "
        "at most 200 mm; measure both tracks and the kingpin's lean again"
    )
    assert list(tmp_path.iterdir()) == []


def test_cutting_a_line():
    box = template_paper.Box(0.0, 0.0, 10.0, 5.0)
    line = np.array([(-5.0, 1.0), (5.0, 1.0), (5.0, 9.0), (8.0, 9.0), (8.0, -3.0)])
    first, second = cut_to(line, box)
    assert first == pytest.approx(np.array([(0.0, 1.0), (5.0, 1.0), (5.0, 5.0)]), rel=0, abs=1e-12)
    assert second == pytest.approx(np.array([(8.0, 5.0), (8.0, 0.0)]), rel=0, abs=1e-12)
    assert cut_to(np.array([(0.0, 6.0), (10.0, 6.0)]), box) == []
    assert max(length for length, _ in TICKS.values()) <= OVERLAP  # so that a degree's mark is whole on some sheet
