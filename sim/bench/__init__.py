"""The built steering: readings, fit, advice."""
