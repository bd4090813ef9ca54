"""A scenario made ready, what `run`, `angles`, `corner` and `knock` find of it, the race, many laps and who drives them."""
