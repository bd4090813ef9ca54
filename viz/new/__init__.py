"""`new` and `measure`: the text of a scenario to begin with, the questions that fill it, the sheets to take to the car."""
