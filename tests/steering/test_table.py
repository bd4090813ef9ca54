"""The table that the kernels read against the exact pose."""

import numpy as np
import pytest

from sim.linkages.rolling import equivalent_steer
from sim.steering import sampling
from sim.steering.arrangement import LOCK_MARGIN
from sim.steering.table import CELLS, COLUMNS, SteerColumn, hand_where, merged_table, steer_table

WHEELBASE = 1.5
SWAPPED = [
    SteerColumn.HAND, SteerColumn.RIGHT_STEER, SteerColumn.LEFT_STEER, SteerColumn.RIGHT_X, SteerColumn.LEFT_X, SteerColumn.RIGHT_Y,
    SteerColumn.LEFT_Y, SteerColumn.RIGHT_CAMBER, SteerColumn.LEFT_CAMBER,
]  # fmt: skip
SIGNS = np.array([-1, -1, -1, 1, 1, -1, -1, -1, -1])


def exact(steering, hand):
    """Equivalent steer and the table's columns, from the pose itself."""
    pose = steering.front_wheels(hand)
    columns = np.empty((len(hand), COLUMNS))
    columns[:, SteerColumn.HAND] = hand
    columns[:, [SteerColumn.LEFT_STEER, SteerColumn.RIGHT_STEER]] = pose.steer
    columns[:, [SteerColumn.LEFT_X, SteerColumn.RIGHT_X]] = pose.x
    columns[:, [SteerColumn.LEFT_Y, SteerColumn.RIGHT_Y]] = pose.y
    columns[:, [SteerColumn.LEFT_CAMBER, SteerColumn.RIGHT_CAMBER]] = pose.camber
    return equivalent_steer(pose.steer, steering.kingpin_y, WHEELBASE), columns


@pytest.mark.slow
@pytest.mark.parametrize("extra", [{}, {"toe_in_deg": 1.1}], ids=["plain", "toe"])
def test_table_meets_the_pose(build, any_keys, leaning, read_table, extra):
    """Inside 95 % of the range between the nodes: 1e-7 rad and m."""
    steering = build(**any_keys, **leaning(any_keys), **extra)
    table = steer_table(steering, WHEELBASE)
    steer, columns = exact(steering, np.linspace(steering.lock_right, steering.lock_left, 4001))
    middle, half = (table.lock_left + table.lock_right) / 2, (table.lock_left - table.lock_right) / 2
    inside = np.abs(steer - middle) < 0.95 * half
    assert np.count_nonzero(inside) > 2000
    assert read_table(table, steer[inside]) == pytest.approx(columns[inside], rel=0, abs=1e-7)


def test_nodes_are_exact(build, any_keys, leaning, read_table):
    """At the nodes the columns are the pose's own, and the pose asks for the node's steer: 1e-12."""
    steering = build(**any_keys, **leaning(any_keys))
    table = steer_table(steering, WHEELBASE)
    nodes = table.first + table.spacing * np.arange(CELLS)
    steer, columns = exact(steering, table.cells[:, SteerColumn.HAND, 0])
    assert steer == pytest.approx(nodes, rel=0, abs=1e-12)
    assert table.cells[:, :, 0] == pytest.approx(columns, rel=0, abs=1e-12)


def test_shape_and_ends(build, any_keys):
    steering = build(**any_keys)
    table = steer_table(steering, WHEELBASE)
    assert table.cells.shape == (CELLS, COLUMNS, 4)
    assert table.cells.dtype == np.float64
    assert table.cells.flags.c_contiguous
    right, left = exact(steering, np.array([steering.lock_right, steering.lock_left]))[0]
    spare = LOCK_MARGIN * (left - right)
    assert left - table.lock_left == pytest.approx(0 if steering.lock_left_cause == "hand wheel limit" else spare, rel=1e-9, abs=1e-12)
    assert table.lock_right - right == pytest.approx(0 if steering.lock_right_cause == "hand wheel limit" else spare, rel=1e-9, abs=1e-12)
    assert table.first == table.lock_right
    assert table.first + CELLS * table.spacing == pytest.approx(table.lock_left, rel=1e-14, abs=0)


def test_pieces_join_smoothly(build, real_keys, leaning):
    """Value, slope and curvature at the end of each piece are those at the start of the next."""
    cells = steer_table(build(**real_keys, **leaning(real_keys)), WHEELBASE).cells
    c0, c1, c2, c3 = np.moveaxis(cells, 2, 0)
    assert (c0 + c1 + c2 + c3)[:-1] == pytest.approx(c0[1:], rel=0, abs=1e-13)
    assert (c1 + 2 * c2 + 3 * c3)[:-1] == pytest.approx(c1[1:], rel=0, abs=1e-13)
    assert (2 * c2 + 6 * c3)[:-1] == pytest.approx(2 * c2[1:], rel=0, abs=1e-13)


def test_hand_rises_with_steer(build, any_keys, leaning):
    table = steer_table(build(**any_keys, **leaning(any_keys), toe_in_deg=-0.5), WHEELBASE)
    assert np.all(np.diff(table.cells[:, [SteerColumn.HAND, SteerColumn.LEFT_STEER, SteerColumn.RIGHT_STEER], 0], axis=0) > 0)


def test_mirrored_table(build, real_keys, leaning, read_table):
    """T4: rod turns swapped left and right; at the opposite steer the columns are mirrored.

    A cross rod's hand angle belongs to the left wheel, so that column has no mirror image.  The two tables need not end
    alike, so they are read between their nodes and meet within the spline's error.
    """
    keys = real_keys | leaning(real_keys) | {"toe_in_deg": 0.9}
    one, other = (steer_table(build(**keys, rod_turns_left=a, rod_turns_right=b), WHEELBASE) for a, b in ((2.0, -1.0), (-1.0, 2.0)))
    columns = list(range(COLUMNS))
    cross_rod = real_keys["linkage"] == "cross rod"
    if cross_rod:
        columns.remove(SteerColumn.HAND)
    end = 0.95 * min(one.lock_left, -one.lock_right, other.lock_left, -other.lock_right)
    steer = np.linspace(-end, end, 501)
    mirrored = (SIGNS * read_table(other, -steer))[:, SWAPPED]
    assert mirrored[:, columns] == pytest.approx(read_table(one, steer)[:, columns], rel=0, abs=1e-7 if cross_rod else 1e-10)


def test_straight_ahead_is_straight(build, any_keys, read_table):
    """A symmetric set-up has a node straight ahead, so that a straight lap steers nothing: both wheels at 0 within rounding.

    A cross rod's range differs from side to side, so there it is a matter of the spline.
    """
    table = steer_table(build(**any_keys), WHEELBASE)
    steer = read_table(table, np.zeros(1))[0, [SteerColumn.LEFT_STEER, SteerColumn.RIGHT_STEER]]
    assert steer == pytest.approx(0.0, rel=0, abs=1e-9 if any_keys.get("linkage") == "cross rod" else 1e-14)


def test_merged_table_is_a_single_track(build, read_table):
    table = steer_table(build(linkage="rack", arm_length_mm=110.0, arm_angle_deg=13.9, rack_behind_front_axle_mm=140.0,
                              rack_length_mm=320.0, rack_mm_per_turn=60.0), WHEELBASE)  # fmt: skip
    merged = merged_table(table)
    steer = np.linspace(table.lock_right, table.lock_left, 333)
    read = read_table(merged, steer)
    assert read[:, [SteerColumn.LEFT_STEER, SteerColumn.RIGHT_STEER]] == pytest.approx(np.stack([steer, steer], axis=1), rel=0, abs=1e-14)
    assert read[:, SteerColumn.HAND] == pytest.approx(read_table(table, steer)[:, SteerColumn.HAND], rel=0, abs=0)
    assert not read[:, SteerColumn.RIGHT_STEER + 1 :].any()
    assert (merged.first, merged.spacing, merged.lock_left) == (table.first, table.spacing, table.lock_left)
    assert table.cells[:, SteerColumn.LEFT_Y].any()  # the table that it came from is left alone


def test_equivalent_steer_of_ideal_and_parallel():
    """By its definition: of an ideal pair it is the cotangents' mean; of a straight pair with toe it is 0."""
    y = np.array([0.37, -0.37])
    steer = np.radians([[30.0, np.degrees(np.arctan(1 / (1 / np.tan(np.radians(30.0)) + 0.74 / 1.5)))]])
    mean = np.arctan(2 / (1 / np.tan(steer)).sum())
    assert equivalent_steer(steer, y, 1.5) == pytest.approx([mean], rel=1e-14, abs=0)
    toe = 0.01
    # kappa = tan d / (l + y tan d): with angle and y both opposite the two curvatures are opposite.
    assert equivalent_steer(np.array([[-toe, toe]]), y, 1.5) == pytest.approx([0.0], rel=0, abs=1e-17)
    assert equivalent_steer(np.array([[0.2, 0.3]]), np.zeros(2), 1.5) == pytest.approx(
        [np.arctan((np.tan(0.2) + np.tan(0.3)) / 2)], rel=1e-14, abs=0
    )


def test_hand_where_finds_the_hand_angle(build, any_keys, leaning):
    """Against the pose at known hand angles, the locks themselves included; beyond them nan."""
    steering = build(**any_keys, **leaning(any_keys))
    hand = steering.lock_right + (steering.lock_left - steering.lock_right) * np.array([0.0, 0.013, 0.4, 0.5, 0.87, 1.0])
    targets = steering.front_wheels(hand).steer[:, 1]
    found = hand_where(steering, lambda wheels: wheels.steer[:, 1], np.concatenate([targets, [3.0, -3.0]]))
    assert found[1:5] == pytest.approx(hand[1:5], rel=0, abs=1e-13)
    assert (found[0], found[5]) == (steering.lock_right, steering.lock_left)
    assert np.isnan(found[6:]).all()


def test_what_stands_beside_a_value_is_found_in_few_steps(build, any_keys, monkeypatch):
    """Newton's method on a cubic that is nearly straight (textbook): half a dozen steps for each value at most, and then it ends."""
    table = steer_table(build(**any_keys), 1.5)
    cells, steps, step_towards = np.asarray(table.cells), [], sampling.step_towards
    monkeypatch.setattr(sampling, "step_towards", lambda *words: steps.append(1) or step_towards(*words))
    column, other = SteerColumn.HAND, SteerColumn.LEFT_STEER
    wanted = np.linspace(cells[0, column, 0], cells[-1, column].sum(), 21)[1:-1]
    found = getattr(sampling.beside, "py_func", sampling.beside)(cells, column, other, wanted)
    assert np.isfinite(found).all()
    assert len(steps) <= 6 * len(wanted)
