"""The built steering: kinds of readings, which to take, fit, advice."""
