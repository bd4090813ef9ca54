"""A car, its set-ups and a reader of tables for the steering tests."""

import numpy as np
import pytest

from sim.scenario import CarTable, SetupTable
from sim.steering import build_steering

ARM = {"arm_length_mm": 110.0, "arm_angle_deg": 13.9}
FORWARD_ARM = {"arm_length_mm": 110.0, "arm_angle_deg": -166.0}

# Every arrangement with rods; a new linkage joins this list and nothing else.
REAL_LINKAGES = {
    "cross rod": {"linkage": "cross rod", **ARM},
    "cross rod ahead": {"linkage": "cross rod", **FORWARD_ARM, "arm_joint_height_mm": 150.0},
    "centre arm": {
        "linkage": "centre arm",
        **ARM,
        "drop_arm_length_mm": 70.0,
        "drop_arm_behind_front_axle_mm": 107.0,
    },
    "centre arm ahead, joints apart": {
        "linkage": "centre arm",
        **FORWARD_ARM,
        "drop_arm_length_mm": 60.0,
        "drop_arm_behind_front_axle_mm": -90.0,
        "drop_arm_joint_spacing_mm": 80.0,
        "drop_arm_pivot_height_mm": 240.0,
    },
    "rack": {
        "linkage": "rack",
        **ARM,
        "rack_behind_front_axle_mm": 140.0,
        "rack_length_mm": 320.0,
        "rack_mm_per_turn": 60.0,
    },
    "rack ahead of arms behind": {
        "linkage": "rack",
        **ARM,
        "rack_behind_front_axle_mm": 60.0,
        "rack_length_mm": 280.0,
        "rack_mm_per_turn": 45.0,
        "arm_joint_height_mm": 260.0,
    },
}
LAWS = {
    "ideal": {"linkage": "ideal"},
    "parallel": {"linkage": "parallel"},
    "fraction 0.4": {"linkage": "fraction", "fraction": 0.4},
    "fraction -0.6": {"linkage": "fraction", "fraction": -0.6},
    "fraction 1.5": {"linkage": "fraction", "fraction": 1.5},
}
TURNTABLE = {"turntable": {"pivot": "turntable"}}
LEANING = {"kingpin_inclination_deg": 9.0, "caster_deg": 7.0}


@pytest.fixture
def car():
    """The car of the starter scenario."""
    return CarTable(
        mass_kg=145.0,
        wheelbase_mm=1500.0,
        front_track_mm=900.0,
        rear_track_mm=860.0,
        kingpin_track_mm=740.0,
        mass_centre_behind_front_axle_mm=820.0,
        mass_centre_height_mm=330.0,
        yaw_inertia_kg_m2=38.0,
        wheel_radius_mm=203.0,
        drive="one wheel left",
    )


@pytest.fixture
def setup_of():
    """A set-up from its keys."""
    return lambda **keys: SetupTable(**{"name": "tried", "pivot": "stub axles"} | keys)


@pytest.fixture
def build(car, setup_of):
    """Steering of the car from the keys of a set-up."""
    return lambda **keys: build_steering(setup_of(**keys), car, "tried.toml", "setup[0]")


@pytest.fixture(params=REAL_LINKAGES.values(), ids=list(REAL_LINKAGES))
def real_keys(request):
    """The keys of each arrangement with rods."""
    return dict(request.param)


@pytest.fixture(params=LAWS.values(), ids=list(LAWS))
def law_keys(request):
    """The keys of each arrangement that follows a law."""
    return dict(request.param)


ALL = REAL_LINKAGES | LAWS | TURNTABLE


@pytest.fixture(params=ALL.values(), ids=list(ALL))
def any_keys(request):
    """The keys of each arrangement."""
    return dict(request.param)


@pytest.fixture
def leaning():
    """Keys that lean an axis: all of them for kingpins, caster alone for a turntable."""
    return lambda keys: {"caster_deg": 7.0} if keys.get("pivot") == "turntable" else LEANING


@pytest.fixture
def read_table():
    """Read a table as the kernels do: (table, steer (n,)) to (n, columns)."""

    def read(table, steer):
        place = (np.asarray(steer) - table.first) / table.spacing
        cell = np.clip(np.floor(place).astype(int), 0, len(table.cells) - 1)
        t = (place - cell)[:, None]
        c = table.cells[cell]
        return c[..., 0] + t * (c[..., 1] + t * (c[..., 2] + t * c[..., 3]))

    return read
