"""Words that mean the same at every question of the program."""

LEAVE = ("q", "quit", "exit")  # with which any question is left, beside the end of what is typed
HELP = "?"  # with which help is asked for
