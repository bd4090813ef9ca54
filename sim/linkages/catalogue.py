"""Arms and rods: how the hand wheel swings the front wheels.  A new one is a new file and a line in LINKAGES."""

from collections.abc import Callable

from sim.scenario.car import CarTable
from sim.scenario.setup import SetupTable
from sim.linkages import centre_arm, cross_rod, fraction, ideal, parallel, rack, turntable
from sim.linkages.parts import Linkage
from sim.linkages.pivots import FrontWheel


Builder = Callable[[SetupTable, CarTable, tuple[FrontWheel, FrontWheel]], Linkage]

LINKAGES: dict[str, Builder] = {
    "ideal": ideal.build,
    "parallel": parallel.build,
    "fraction": fraction.build,
    "cross rod": cross_rod.build,
    "centre arm": centre_arm.build,
    "rack": rack.build,
    "turntable": turntable.build,
}
