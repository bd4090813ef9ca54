"""What the floor template shows: target pairs, scales, worksheet, and where its sheets lie."""
