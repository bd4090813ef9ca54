"""The floor template: target pairs, scales and where the sheets lie, as figures."""
