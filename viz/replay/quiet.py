"""The window's library, opened without its greeting, which would stand in the midst of our output."""

import os

os.environ.setdefault("PYGAME_HIDE_SUPPORT_PROMPT", "1")

import pygame

__all__ = ["pygame"]
