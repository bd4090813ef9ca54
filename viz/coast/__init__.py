"""`coast`: its numbers, its report and its plot."""
