"""The pages in a real browser: figures of the script, keyboard, fingers, contrast, widths, paper."""

from pathlib import Path

import numpy as np
import pytest

from sim.linkages.rolling import equivalent_steer
from sim.scenario.file import find_scenario, load_scenario
from sim.steering.angles import angle_rows
from sim.steering.table import hand_where
from sim.study.compare import compare
from sim.study.ready import entries_of
from viz.report.classroom import MOST_ASKED, class_pages
from viz.report.page import report_page

PROMISED_DEG = 0.01  # between the page's angles and the program's
AROUND_STRAIGHT = 0.01  # [degrees] of the hand
LEAST_TARGET = 44  # [pixels] a finger's
WIDTHS = (360, 768, 1280, 1920)
PAPERS = ("A4", "Letter")


def quiet(page):
    """Nothing was said in the console, and nothing but the file itself was asked for."""
    return page.said == [] and len(page.asked) == 1 and page.asked[0].startswith("file:")


def page_angles(page, index, hands):
    """Left, right and error [degrees] as the page's script has them."""
    call = "([index, hands]) => hands.map((hand) => { const at = steeringAt(index, hand); return [at.left, at.right, at.error]; })"
    return np.array(page.evaluate(call, [index, list(hands)]))


def program_angles(steering, car, hands):
    rows = angle_rows(steering, car, np.radians(hands))
    return np.degrees(np.column_stack([rows.left, rows.right, rows.error]))


def straight_by(entry, comparison):
    """The equivalent steer of a set-up, by which it stands straight ahead."""
    return lambda wheels: equivalent_steer(wheels.steer, entry.steering.kingpin_y, comparison.scenario.car.wheelbase)


def misses(page, comparison):
    """The largest difference of each set-up [degrees], at hand angles that are no samples of its table."""
    worst = {}
    for index, entry in enumerate(entries_of(comparison.scenario, "tried.toml")):
        low, high = np.degrees([entry.steering.lock_right, entry.steering.lock_left])
        hands = np.linspace(low + 1e-3, high - 1e-3, 777)
        exact = program_angles(entry.steering, comparison.scenario.car, hands)
        # With toe the error jumps where the turn changes sides, for then the other wheel is the inner one.
        away = np.abs(hands - np.degrees(hand_where(entry.steering, straight_by(entry, comparison), np.zeros(1)))) > AROUND_STRAIGHT
        hands, exact = hands[away], exact[away]
        worst[entry.name] = float(np.abs(page_angles(page, index, hands) - exact).max())
    return worst


def test_the_page_runs_asks_for_nothing_and_shows_what_was_computed(opened, bend_page, bend_run):
    page = opened(bend_page, 360)
    assert page.evaluate("[document.documentElement.scrollWidth, innerWidth]") == [360, 360]
    worst = misses(page, bend_run)
    assert set(worst) == {"ideal", "parallel", "turntable axle"}
    assert max(worst.values()) < PROMISED_DEG
    assert page.inner_text("#now").count("\n") == 1  # both cars stand there in figures
    page.keyboard.press("Tab")
    for _ in range(60):
        if page.evaluate("document.activeElement.id") == "angle":
            break
        page.keyboard.press("Tab")
    before = page.inner_text("#angles")
    page.keyboard.press("ArrowLeft")
    assert page.inner_text("#angles") != before
    assert quiet(page)


@pytest.mark.slow
def test_angles_of_every_linkage(opened, compared_of, all_setups):
    """Rods that come near to one line turn the wheels ever faster: there a table needs most samples."""
    base = """
[car]
mass_kg = 145
wheelbase_mm = 1500
front_track_mm = 900
rear_track_mm = 860
kingpin_track_mm = 740
mass_centre_behind_front_axle_mm = 820
mass_centre_height_mm = 330
wheel_radius_mm = 203
drag_area_m2 = 0.2
drive = "differential"
[course]
segments = [{straight_m = 5}, {radius_m = 30, turn_deg = 20}, {straight_m = 3}]
[pace]
target_m_per_s = 3.0
lateral_limit_m_per_s2 = 3.0
"""
    for toe in (0.0, 1.5):
        text = base
        for name, keys in all_setups.items():
            keys = {"pivot": "stub axles"} | keys | ({} if "pivot" in keys else {"toe_in_deg": toe, "least_rod_angle_deg": 1.0})
            keys = {key: value for key, value in keys.items() if key != "least_rod_angle_deg" or "arm_length_mm" in keys}
            rows = "\n".join(f'{key} = "{value}"' if isinstance(value, str) else f"{key} = {value}" for key, value in keys.items())
            text += f'\n[[setup]]\nname = "{name}"\n{rows}\n'
        comparison = compared_of(text)
        page = opened(report_page(comparison))
        worst = misses(page, comparison)
        assert len(worst) == len(all_setups)
        assert max(worst.values()) < PROMISED_DEG, worst
        assert quiet(page)


@pytest.mark.slow
def test_the_map_names_its_car_and_its_colours(opened, bend_page):
    page = opened(bend_page)
    assert page.locator("#mapName").inner_text() == 'What all tyres of "ideal" lose along the course; the dot is where the cars are.'
    none, middle, most = page.locator("#mapKey span").all_inner_texts()
    assert none == "0 W"
    # The colours change with the root of the power.
    assert float(most.removesuffix(" W and more")) == pytest.approx(4 * float(middle.removesuffix(" W")), rel=0, abs=2.5)
    page.select_option("#first", label="parallel")
    assert '"parallel"' in page.locator("#mapName").inner_text()


@pytest.mark.slow
def test_names_stay_text(opened, odd, markup, from_right):
    page = opened(report_page(odd), 768)
    assert page.locator("#first option").all_inner_texts() == [markup, "short lock", from_right]
    assert page.locator("bdi", has_text=markup).count() > 3
    assert page.evaluate("document.querySelectorAll('b, main script').length") == 0
    page.select_option("#first", "2")
    assert from_right in page.inner_text("#now")
    assert quiet(page)


@pytest.mark.slow
def test_names_stay_text_on_paper_for_a_class(opened, odd, markup):
    for text in class_pages(odd):
        page = opened(text, 768)
        assert markup in page.inner_text("body")
        assert quiet(page)


@pytest.mark.slow
@pytest.mark.parametrize("width", WIDTHS)
def test_no_page_scrolls_sideways(opened, bend_page, bend_run, odd, width):
    for text in (bend_page, report_page(odd), *class_pages(bend_run)):
        page = opened(text, width)
        page.evaluate("document.querySelectorAll('details').forEach((one) => { one.open = true; })")
        assert page.evaluate("document.documentElement.scrollWidth") == width
        assert quiet(page)


@pytest.mark.slow
@pytest.mark.parametrize("width", [360, 1280])
def test_an_accessibility_checker_finds_nothing(opened, bend_page, bend_run, odd, width):
    axe = pytest.importorskip("axe_playwright_python.sync_playwright", reason="axe-playwright-python is not installed")
    for text in (bend_page, report_page(odd), *class_pages(bend_run)):
        # Its own script is let past the page's ban on scripts; the page itself is opened with the ban everywhere else.
        page = opened(text, width, bypass_csp=True)
        page.evaluate("document.querySelectorAll('details').forEach((one) => { one.open = true; })")
        found = axe.Axe().run(page).response["violations"]
        assert [(one["id"], [node["html"][:200] for node in one["nodes"]]) for one in found] == []


@pytest.mark.slow
def test_the_checker_sees_a_fault(opened, bend_page):
    axe = pytest.importorskip("axe_playwright_python.sync_playwright", reason="axe-playwright-python is not installed")
    faulty = bend_page.replace('<label for="place">', "<span>").replace("color: #111; background: #fff", "color: #bbb; background: #fff")
    page = opened(faulty, bypass_csp=True)
    assert {"color-contrast", "label"} <= {one["id"] for one in axe.Axe().run(page).response["violations"]}


@pytest.mark.slow
def test_a_finger_meets_every_target(opened, bend_page, bend_run):
    sizes = """() => [...document.querySelectorAll('button, select, summary, input')].filter((one) => one.offsetParent)
               .map((one) => [one.outerHTML.slice(0, 60), one.getBoundingClientRect().width, one.getBoundingClientRect().height])"""
    page = opened(bend_page, 360)
    found = page.evaluate(sizes)
    assert len(found) >= 12
    assert [one for one in found if min(one[1:]) < LEAST_TARGET] == []
    assert page.evaluate("document.querySelectorAll('a').length") == 0


@pytest.mark.slow
def test_the_keyboard_reaches_and_works_everything(opened, bend_page):
    page = opened(bend_page)
    wanted = page.evaluate(
        """() => [...document.querySelectorAll('button, select, summary, input, [tabindex]')].filter((one) => one.checkVisibility())
           .map((one, index) => { one.dataset.stop = index; return index; })"""
    )  # fmt: skip
    reached = []
    for _ in wanted:
        page.keyboard.press("Tab")
        reached.append(page.evaluate("Number(document.activeElement.dataset.stop)"))
        outline = page.evaluate("getComputedStyle(document.activeElement).outlineStyle")
        assert outline != "none"
    assert reached == wanted
    page.focus("#play")
    page.keyboard.press("Space")
    assert page.inner_text("#play") == "Pause"
    for _ in range(100):
        if page.evaluate("station > data.telling + 0.5"):
            break
        page.wait_for_timeout(50)
    assert page.evaluate("station > data.telling + 0.5")
    page.keyboard.press("Space")
    assert page.inner_text("#play") == "Play"
    stopped = page.evaluate("station")
    page.focus("#place")
    page.keyboard.press("ArrowRight")
    assert page.evaluate("station") == pytest.approx(stopped, abs=1.0, rel=0)
    page.focus("#steering")
    page.keyboard.press("i")
    page.keyboard.press("Enter")
    assert page.eval_on_selector("#steering", "one => one.selectedOptions[0].text") == "ideal"
    page.focus("#angle")
    page.keyboard.press("Home")  # the slider's left end is the left lock
    assert page.evaluate("hand") == pytest.approx(60.0, abs=1e-3, rel=0)
    page.focus("summary")
    page.keyboard.press("Enter")
    assert page.evaluate("document.querySelector('details').open")
    assert quiet(page)


@pytest.mark.slow
def test_a_finger_turns_the_wheel(opened, bend_page):
    page = opened(bend_page, 360, has_touch=True)
    page.click("#ahead")
    page.locator("#wheel").scroll_into_view_if_needed()
    box = page.locator("#wheel").bounding_box()
    middle = box["x"] + box["width"] / 2, box["y"] + box["height"] / 2
    radius = box["width"] / 2 - 16
    page.mouse.move(middle[0], middle[1] - radius)
    page.mouse.down()
    for degrees in range(2, 41, 2):
        turned = np.radians(degrees)
        page.mouse.move(middle[0] - radius * np.sin(turned), middle[1] - radius * np.cos(turned))
    page.mouse.up()
    assert page.evaluate("hand") == pytest.approx(40.0, abs=1.0, rel=0)  # to the left, as a real one
    page.mouse.move(*middle)
    assert page.evaluate("hand") == pytest.approx(40.0, abs=1.0, rel=0)


@pytest.mark.slow
def test_unwelcome_motion_is_left_out(opened, bend_page):
    """Frames that are drawn in a second and a half of replay."""
    counted = {}
    for motion in ("no-preference", "reduce"):
        page = opened(bend_page, reduced_motion=motion)
        page.evaluate("() => { window.frames_ = 0; const old = drawMap; drawMap = (...all) => { window.frames_ += 1; old(...all); }; }")
        page.click("#play")
        page.wait_for_timeout(1500)
        counted[motion] = page.evaluate("window.frames_")
    assert counted["reduce"] <= 4
    assert counted["no-preference"] > 2 * counted["reduce"]


@pytest.mark.slow
@pytest.mark.parametrize("paper", PAPERS)
def test_paper(opened, bend_page, bend_run, paper, tmp_path):
    """The page prints with its tables open and nothing to press; the handout has two sides."""
    import pypdfium2

    def printed(page):
        page.pdf(path=tmp_path / "printed.pdf", format=paper)
        document = pypdfium2.PdfDocument(tmp_path / "printed.pdf")
        return [document[index].get_textpage().get_text_bounded() for index in range(len(document))]

    sheets = printed(opened(bend_page))
    whole = " ".join("\n".join(sheets).split())
    assert 3 <= len(sheets) <= 9
    for words in ("mass_kg", "ideal inner", "How sure is this?", "Cautions", "lost W"):
        assert words in whole
    assert "Straight ahead" not in whole  # a button
    headings = ("Watch the lap", "Turn the hand wheel", "Where the energy goes", "What went in")
    for sheet in sheets:  # no heading is left alone at a sheet's end
        assert sheet.strip().splitlines()[-1].strip() not in headings
    handout, answers = class_pages(bend_run)
    sides = printed(opened(handout))
    assert len(sides) == 2
    assert "1. Predict" in sides[0]
    assert "2. Explain" in sides[1]
    assert "3. Decide" in sides[1]
    work = f"{bend_run.results[1].ledger.drive_work:.1f} J"
    assert work in sides[1]
    assert work not in sides[0]
    assert len(printed(opened(answers))) <= 2
    assert Path(tmp_path / "printed.pdf").stat().st_size < 1e6


@pytest.mark.slow
@pytest.mark.parametrize("width", WIDTHS)
def test_a_table_that_moves_says_so_and_is_moved_by_keys(opened, bend_page, width):
    """Words and a shadow beside each table that goes on beyond the edge, and beside no other."""
    page = opened(bend_page, width)
    page.evaluate("document.querySelectorAll('details').forEach((one) => { one.open = true; })")
    page.wait_for_timeout(100)
    found = page.evaluate(
        """() => [...document.querySelectorAll('.sideways')].map((one) => [one.scrollWidth > one.clientWidth + 1,
           one.previousElementSibling.checkVisibility(), getComputedStyle(one).backgroundImage.includes('gradient')])"""
    )  # fmt: skip
    assert len(found) >= 8
    assert [moves for moves, _, _ in found] == [told for _, told, _ in found]
    assert all(shadow for _, _, shadow in found)
    if width == WIDTHS[0]:
        assert any(moves for moves, _, _ in found)
        index = next(place for place, (moves, _, _) in enumerate(found) if moves)
        page.locator(".sideways").nth(index).focus()
        page.keyboard.press("ArrowRight")
        page.wait_for_timeout(300)
        assert page.evaluate("(index) => document.querySelectorAll('.sideways')[index].scrollLeft", index) > 0


COSTS = """() => { const table = document.querySelector('table'), names = [...table.querySelectorAll('tbody th')];
           return { css: table.className,
                    right: Math.max(...[...table.querySelectorAll(innerWidth > 640 ? 'th, td' : 'tbody th, tbody td')]
                                    .map((one) => one.getBoundingClientRect().right)),
                    moves: table.parentElement.scrollWidth > table.parentElement.clientWidth || table.scrollWidth > table.clientWidth + 1,
                    cells: [...table.querySelectorAll('tbody td')].every((one) => !one.textContent || one.checkVisibility()),
                    text: table.innerText, names: names.length }; }"""


@pytest.mark.slow
@pytest.mark.parametrize("width", [320, 360, 480, 700, 1280])
def test_the_costs_fit_a_phone(opened, bend_page, odd, width):
    """The first table of the page had to be pushed sideways to be read."""
    for text, count in ((bend_page, 3), (report_page(odd), 3)):
        page = opened(text, width)
        found = page.evaluate(COSTS)
        assert found["css"] == "costs"
        assert found["right"] <= width
        assert not found["moves"]
        assert found["cells"]
        assert found["names"] == count
        before = "getComputedStyle(document.querySelector('.costs td'), '::before').content"
        assert ("drive work J" in page.evaluate(before)) == (width <= 640)  # below its name each figure has its heading beside it
        assert quiet(page)


@pytest.mark.slow
def test_the_costs_of_a_race_fit_a_phone(opened):
    """Five figures a set-up, and a long name."""
    path = find_scenario("race-day")
    page = opened(report_page(compare(load_scenario(path, "race-day"), path.parent, "race-day")), 360)
    found = page.evaluate(COSTS)
    assert found["right"] <= 360
    assert not found["moves"]
    assert "the same with 1 degree of toe-in" in found["text"]


ROWS_OF = "(which) => [...document.querySelectorAll(which)].map((row) => [...row.cells].map((one) => one.textContent))"


@pytest.mark.slow
def test_one_figure_is_told_in_one_way(opened, bend_page, odd):
    """Why and Watch the lap gave 6.5 and 6.6 W for one tyre at one place."""
    for text in (bend_page, report_page(odd)):
        page = opened(text)
        rows, now = (page.evaluate(ROWS_OF, which) for which in ("#why ~ details tbody tr", "#now tr"))
        why = [[row[3] for row in rows], [row[6] for row in rows]]
        assert [cells[3:] for cells in now] == why
        for column in why:
            assert sum(map(float, column[:4])) == pytest.approx(float(column[4]), rel=0, abs=1e-9)
        # And below it, at the places of its table.
        told = page.evaluate(ROWS_OF, "#replay ~ details tbody tr")
        second = page.evaluate("data.pair[1]")
        assert len(told) >= 10
        for place, *powers in told:
            page.evaluate("(metres) => { place.value = metres; place.dispatchEvent(new Event('input')); }", place)
            assert page.evaluate("document.querySelectorAll('#now tr')[1].cells[7].textContent") == powers[second]


def test_parallel_axle_lines_are_told_as_such_at_the_hand_wheel(opened, bend_page):
    page = opened(bend_page)
    told = {}
    for index, name in enumerate(("ideal", "parallel")):
        page.select_option("#steering", str(index))
        for hand in (10, -25, 40):
            page.evaluate("(hand) => turnTo(hand)", hand)
            told.setdefault(name, set()).add(page.inner_text("#meets"))
    (words,) = told["parallel"]
    assert words.replace("\N{NO-BREAK SPACE}", " ").startswith(
        "The front axle lines are parallel and never meet: they cross the rear axle's line 74 cm apart, as far as the kingpins stand apart"
    )
    assert all("at one point" in one for one in told["ideal"])


@pytest.mark.slow
def test_a_handout_with_all_that_its_answers_name_has_two_sides(opened, compared_of, yard, tmp_path):
    import pypdfium2

    text = yard.partition("[[setup]]")[0]
    for index in range(8):
        rods = f'"fraction"\nfraction = {0.3 * index - 1.2}' if index > 4 else '"ideal"\ntoe_in_deg = 3.0'
        if index < 4:
            rods = f'"cross rod"\narm_length_mm = {90 + 10 * index}\narm_angle_deg = 14'
        text += f'[[setup]]\nname = "a rather long name of a set-up {index}"\npivot = "stub axles"\nlinkage = {rods}\n'
    handout = class_pages(compared_of(text))[0]
    assert handout.count('<th class="words" scope="row">') > MOST_ASKED
    for paper in PAPERS:
        opened(handout).pdf(path=tmp_path / "printed.pdf", format=paper)
        assert len(pypdfium2.PdfDocument(tmp_path / "printed.pdf")) == 2


@pytest.mark.slow
def test_frames_of_drawings_end_on_the_paper(opened, bend_page):
    """A canvas was wider than the page by its own frame, so that its right edge was missing in print."""
    page = opened(bend_page, 700)
    page.emulate_media(media="print")
    wide = page.evaluate(
        "() => [...document.querySelectorAll('canvas')].map((one) => one.getBoundingClientRect().right"
        " - one.parentElement.getBoundingClientRect().right)"
    )
    assert max(wide) <= 0.5


@pytest.mark.slow
def test_the_energy_table_fits_a_desk(opened, bend_page):
    """From 1280 px on nothing of it lies beyond the edge, for its own style makes it narrower there."""
    moves = """() => { document.querySelectorAll('details').forEach((one) => { one.open = true; });
               const box = document.querySelector('.energies').parentElement; return box.scrollWidth > box.clientWidth + 1; }"""
    desk = "@media screen and (min-width: 1024px)"
    assert desk in bend_page
    for width in (1280, 1920):
        assert not opened(bend_page, width).evaluate(moves)
    assert opened(bend_page.replace(desk, "@media screen and (min-width: 9999px)"), 1280).evaluate(moves)


@pytest.mark.slow
@pytest.mark.parametrize("paper", PAPERS)
def test_no_list_and_no_maps_are_cut_by_a_sheets_end(opened, paper, tmp_path):
    """The shipped loop with eight set-ups: six maps stand on one sheet, and no item of a list and no last line alone on another."""
    import pypdfium2

    path = find_scenario("quay-loop")
    page = opened(report_page(compare(load_scenario(path, "quay-loop"), path.parent, "quay-loop")))
    page.pdf(path=tmp_path / "printed.pdf", format=paper)
    document = pypdfium2.PdfDocument(tmp_path / "printed.pdf")
    sheets = [" ".join(sheet.get_textpage().get_text_bounded().split()) for sheet in document]
    document.close()
    assert sorted(sheet.count("J lost by slipping") for sheet in sheets)[-2:] == [0, 6]
    for first, last in (("suspension and frame flex", "wheels' own spin inertia"), ("Model: slipping four wheels", "is taken as level")):
        assert [first in sheet for sheet in sheets] == [last in sheet for sheet in sheets]
    assert len(sheets[-1]) > 400  # more than the line about safety
