"""Kingpins, arms and rods in SI units: how the hand wheel swings the front wheels, a linkage a file."""
