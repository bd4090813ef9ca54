"""`angles`: its report."""
