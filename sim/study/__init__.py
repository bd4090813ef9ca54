"""A scenario made ready, its comparison as types and as numbers, the race, many laps and who drives them."""
