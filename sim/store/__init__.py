"""Writing whole or not at all: the run folder, its lock, kept rows."""
