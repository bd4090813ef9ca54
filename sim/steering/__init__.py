"""From the hand wheel to the two front wheels."""

from sim.steering.arrangement import FrontWheels, Steering, build_steering, ideal_setup
from sim.steering.table import SteerTable, merged_table, steer_table

__all__ = ["FrontWheels", "SteerTable", "Steering", "build_steering", "ideal_setup", "merged_table", "steer_table"]
