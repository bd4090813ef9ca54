"""`bench`: its numbers and its report."""
