"""`corner`: its numbers, its report and its map."""
