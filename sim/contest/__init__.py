"""A class's entries under one set of rules."""
