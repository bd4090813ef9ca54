"""What a search may change: the free keys of a set-up, their bounds, and a set-up's steering sampled quickly enough to try thousands."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from difflib import get_close_matches
from math import radians

import numpy as np
from pydantic import ValidationError

from sim.chassis import Car
from sim.errors import InputError
from sim.scenario import MILLIMETRE, CarTable, SetupTable
from sim.steering import SteerTable
from sim.steering.angles import circle_of
from sim.steering.arrangement import STEEPEST, Steering, assemble
