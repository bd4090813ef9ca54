"""What a study of uncertainty comes to: the best set-up and its gains, which of them are small, and which inputs decide them."""

from math import hypot

from sim.judgements import TELL_APART
from sim.spread.run import FIGURES, PairSpread, Shares, Spread
from sim.spread.statistics import Estimate, Interval

NO_DIFFERENCE = 1e-6  # of the drive work: what lies within is made by steps and rounding as much as by any steering [-]
LARGEST_ERROR = 0.25  # of a share, beyond which nobody can say what matters most; a judgement


def of_rolling(spread: Spread, pair: PairSpread) -> float | None:
    """The middle of a gain as a share of the rolling loss, with the gain's sign; None without either [-].

    spread : the study; pair : one of it
    """
    rolling = spread.setups[pair.first].figures[FIGURES.index("rolling_J")]
    if pair.gain is None or rolling is None or rolling.middle.value <= 0:
        return None
    return pair.gain.middle.value / rolling.middle.value


def is_small(spread: Spread, pair: PairSpread) -> bool:
    """Whether a gain's middle is less of the drive work than anything can tell apart on a course, however sure its sign is here.

    spread : the study; pair : one of it
    """
    work = spread.setups[pair.first].figures[FIGURES.index("drive_work_J")]
    return pair.gain is not None and work is not None and abs(pair.gain.middle.value) <= TELL_APART * work.middle.value


def no_difference(spread: Spread, pair: PairSpread) -> bool:
    """Whether two set-ups need the same in 95 of 100 draws, whatever sign the rest of the sums has.

    spread : the study; pair : one of it
    """
    work = spread.setups[pair.first].figures[FIGURES.index("drive_work_J")]
    if pair.gain is None or work is None:
        return False
    return max(abs(pair.gain.low.value), abs(pair.gain.high.value)) <= NO_DIFFERENCE * abs(work.middle.value)


def leading(shares: Shares) -> list[int]:
    """The input that matters most, or the two of which either may; empty where the draws are too few to name any.

    shares : of a variance
    """
    counted = shares.total or shares.alone
    first = max(counted, key=lambda index: counted[index].value)
    most = counted[first]
    level = [
        index for index, one in counted.items()
        if index == first or most.value - one.value < hypot(most.error, one.error)
    ]  # fmt: skip
    if most.error > LARGEST_ERROR or len(level) > 2:
        return []
    return sorted(level, key=lambda index: -counted[index].value)


def best_pairs(spread: Spread) -> tuple[int, list[PairSpread]]:
    """The set-up with which all others are compared, and its pairs with them, seen from it, the greatest gain last.

    spread : the study
    It is the one that was asked for, else the one that needs least; -1 where none gets round.  Pairs in too few draws of which both get
    round are left out.
    """
    done = [(-round(one.finished, 2), one.figures[0].middle.value, index) for index, one in enumerate(spread.setups) if one.figures[0]]
    if not done:
        return -1, []
    best = min(done)[2] if spread.against is None else spread.against
    mine = [pair if pair.first == best else turned(pair) for pair in spread.pairs if best in (pair.first, pair.second)]
    return best, sorted((pair for pair in mine if pair.gain), key=lambda pair: pair.gain.middle.value if pair.gain else 0.0)


def lead_of(spread: Spread, pairs: list[PairSpread]) -> PairSpread:
    """The pair that is told first.

    spread : the study; pairs : of `best_pairs`, at least one
    Returns the greatest gain; against a chosen set-up the one that needs least, if it is sure to need less than that.
    """
    sure = spread.against is not None and pairs[0].told_apart and pairs[0].gain is not None and pairs[0].gain.middle.value < 0
    return pairs[0] if sure else pairs[-1]


def turned(pair: PairSpread) -> PairSpread:
    """The same pair seen from the other set-up.  pair : of a study."""

    def less(one: Estimate) -> Estimate:
        return Estimate(-one.value, one.error)

    gain = pair.gain and Interval(less(pair.gain.high), less(pair.gain.middle), less(pair.gain.low))
    chance = pair.chance and Estimate(1 - pair.chance.value, pair.chance.error)
    return PairSpread(pair.second, pair.first, pair.draws, gain, chance, pair.shares)
