"""`knock`: its report and its plot."""
