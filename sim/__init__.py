"""Scrubwise computes here: no screen, no terminal, no plotting library."""
