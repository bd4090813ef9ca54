"""`new`: the text of a scenario to begin with, and the questions that fill it."""
