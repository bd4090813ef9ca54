"""`corner`: its report and its map."""
