"""Many laps side by side, equal to one lap bit for bit."""
