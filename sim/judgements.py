"""What counts as small, and what as told apart: judgements, not measurements."""

# Lap counts nearer than this to each other are not told apart: tyre figures, wind and the driver's line move a lap's energy by more.
# A judgement, until `spread` has been run on the scenario.  [share]
TELL_APART = 0.01
# A gain below this share of the rolling loss is called small: a soft or a cold tyre alone changes rolling by more.
SMALL_SHARE = 0.1
# Of the drive work: nobody could measure less.  [share]
SAME_SHARE = 5e-4
# What a key's flat range and a smaller change of a search may cost, of an objective: nobody tells less apart.  [share]
FLAT_SHARE = 0.01
# ... and at least this much of each objective [J, Wh, J, m, degrees], which is also the least that is worth trading: nobody measures less.
FLAT_LEAST = {"drive_work": 0.1, "battery": 1e-4, "scrub": 0.1, "rub": 1e-3, "error": 0.01}
# Of turning circle, lock or kick-back lever, from which on a loss is warned of.  [share]
MUCH_LOST = 0.1
PLAY_MM = 0.5  # of a worn joint, to show what short arms do with it
# Of the parts as they are made, from which on it is told that they may break a limit or not get round.  [share]
MANY_BROKEN = 0.05
