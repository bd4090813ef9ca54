"""`angles`: its numbers and its report."""
