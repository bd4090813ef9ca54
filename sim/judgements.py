"""What counts as small, and what as told apart: judgements, not measurements."""

# Lap counts nearer than this to each other are not told apart: tyre figures, wind and the driver's line move a lap's energy by more.
# A judgement, until `spread` has been run on the scenario.  [share]
TELL_APART = 0.01
# A gain below this share of the rolling loss is called small: a soft or a cold tyre alone changes rolling by more.
SMALL_SHARE = 0.1
