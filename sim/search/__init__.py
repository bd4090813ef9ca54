"""The best set-up within bounds."""
