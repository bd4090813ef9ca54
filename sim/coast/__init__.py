"""Rolling and air drag from logs of a car that rolls out."""
