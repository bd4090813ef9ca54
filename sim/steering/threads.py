"""Threads of rod ends: the profile of metric threads, and how much of it must sit in a rod."""

from math import sqrt

# Least thread in a track-rod end, in thread diameters and in turns; read in builders' and kart forums (common practice).
LEAST_DIAMETERS, LEAST_TURNS = 1.5, 5.0
# Nominal diameters of the coarse threads of ISO 261 by their pitch, rod sizes alone; read in public tables of it. [mm]
COARSE_MM = {1.0: 6, 1.25: 8, 1.5: 10, 1.75: 12}
# The sharp triangle of the profile, whose sides stand at 60 degrees, is this high. [pitches]
TRIANGLE = sqrt(3) / 2


def pitch_diameter(diameter: float, pitch: float) -> float:
    """Diameter at which a thread and its groove are equally wide, d_2 = d - 2 (3/8) H.

    diameter : nominal, d [m]; pitch : P [m]
    Returns d_2 [m].  Source: basic profile of ISO 68-1 with H = sqrt(3)/2 P, diameters of ISO 724 (both from memory; H read in a
    public table).
    """
    return diameter - 0.75 * TRIANGLE * pitch


def minor_diameter(diameter: float, pitch: float) -> float:
    """Least diameter of the inner thread, D_1 = d - 2 (5/8) H: what a hole for the thread may not exceed by much.

    diameter : nominal, d [m]; pitch : P [m]
    Returns D_1 [m].  Source: as for `pitch_diameter`; 1.0825 P read in a public table.
    """
    return diameter - 1.25 * TRIANGLE * pitch


def engagement_turns(pitch: float, diameter: float) -> float:
    """Turns of thread that make the usual least engagement of a rod end, 1.5 diameters.

    pitch, diameter : of the thread [m]
    Returns the turns [-].  Source: 1.5 d, builders' common practice.
    """
    return LEAST_DIAMETERS * diameter / pitch
