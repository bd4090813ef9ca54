"""Tyres, loads, traction, motor and battery: forces, accelerations and powers of one state."""
