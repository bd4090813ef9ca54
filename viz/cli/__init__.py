"""The command line: entry, one thin function a command, and what they share."""

from viz.cli.entry import main

__all__ = ["main"]
