"""`search`: its numbers, its words and its report."""
