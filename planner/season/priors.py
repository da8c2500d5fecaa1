"""What the model believes before it has seen a sale. Effects are on the log scale: 0.1 is about ten percent.

A prior that has no source says "judgement"; its effect was measured by tests/bench/bench_season.py.
"""

import numpy as np

from planner.season.calendar import FEATURES, GIFT_KNOTS, KNOTS

LEVEL_SD = 2.5  # a usual scent sells about one bottle a week, give or take a factor of twelve: says next to nothing
# Before anything at all was sold: a new scent's usual pace outside the season [bottles a week], common practice, no
# source. The shop is within a factor of two of it (judgement), and each scent is like the shop within LIKE_SD.
FIRST_PACE = 1.0
FIRST_PACE_SD = 0.4
TREND_SD = 0.25  # growth of the whole shop in a year
WAVE_SD = (0.35, 0.35, 0.2, 0.2)  # the calm part of the year swings by a third, and slowly

# Christmas: a generic gift trade (judgement) sells this much more at each knot before the last posting day. The
# season as a whole may be stronger or weaker (PEAK_SD, in proportion), and bent smoothly (BEND_SD, BEND_KNOTS).
# Tight priors around zero would let the yearly shocks eat the peak; loose ones explode where no Christmas was seen.
PEAK = np.array([1.2, 0.9, 0.6, 0.35, 0.15])
PEAK_SD = 0.7
BEND_SD = 0.45
BEND_KNOTS = 1.5  # neighbouring knots bend together
DEAD_MEAN, DEAD_SD = -0.3, 0.7  # after the last posting day: no presents by post any more
BLACK_FRIDAY_MEAN, HOLIDAY_SD = 0.4, 0.5  # Easter: 0, as sure
# Valentine's and Mother's Day, at each knot: strength and, apart from that, whether early or late (judgement)
GIFT_MEAN, GIFT_SD, GIFT_BEND_SD = 0.3, 0.45, 0.35

EVENT_MEAN, EVENT_SD = 0.4, 0.7  # a market day, a promotion, a holiday of the shop's own: half as much again, or none
LAUNCH_MEAN, LAUNCH_SD = 0.2, 0.5  # a new scent may start above what it settles at
LAUNCH_WEEKS = 6.0  # and has lost most of that after so many weeks

BLOCK_WEEKS = 4  # tastes drift in steps of four weeks
# A step leads from the mean of one block to the mean of the next: 2/3 of the variance of what a steady walk moves in a
# block's time. Now is the end of the last block, whose mean is 1/3 of that variance away (both by integration).
WALK, SINCE_MIDDLE = 1.5, 1 / 3

# sd of how scents differ, and the weight of that prior counted in scents (or steps, or seasons): the data move it
SPREADS = {
    "level": (0.8, 3.0),
    "trend": (0.15, 10.0),
    "peak": (0.35, 6.0),
    "valentine": (0.3, 6.0),
    "mother": (0.3, 6.0),
    "wave": (0.2, 6.0),
    "drift": (0.07, 10.0),
    "year": (0.2, 8.0),
}
SHARED_DRIFT = (0.057, 40.0)  # the shop as a whole drifts as well
SHARED_YEAR = (0.2, 4.0)  # one Christmas is stronger or weaker for every scent at once

SIZES = np.geomspace(0.15, 100.0, 10)  # how uneven a week's sales may be: size of the negative binomial
SIZES_PRIOR = 0.5 * np.exp(
    -0.5 * (np.log(SIZES / 6.0) / 1.2) ** 2
)  # pseudo-scents around size 6: weeks are rarely even

YOUNG_SD, YOUNG_WEEKS = 0.25, 26.0  # a young scent has not settled: extra sd, halved every 18 weeks
LIKE_SD = 0.6  # a scent sells like those it is said to be like, give or take 80 percent
GUESS_SD = 0.5  # a maker's guess of a new scent that is one number is off by that much (judgement)
GUESS_HOLDS = 1.2816  # low to high is read as eight chances in ten
GUESS_LEAST_SD = 0.2  # however narrow the range, nobody knows a new scent's season better than that (judgement)
GUESS_WRONG, GUESS_WRONG_SD = 0.05, 1.5  # one guess in twenty is plainly wrong, by a factor of four or so (judgement)

# Half of the scents that are not on the shelf for a year never come back; less than a quarter of a year is a pause
# between batches (judgement). [weeks]
OVER_HALF, OVER_FROM = 52, 13


def season_prior() -> tuple[np.ndarray, np.ndarray]:
    """Return mean and covariance of the effects named in calendar.FEATURES."""
    apart = np.subtract.outer(np.arange(len(KNOTS)), np.arange(len(KNOTS))) / BEND_KNOTS
    shape = PEAK / PEAK[0]
    peak = PEAK_SD**2 * np.outer(shape, shape) + BEND_SD**2 * np.exp(-0.5 * apart**2)
    gift = GIFT_SD**2 + GIFT_BEND_SD**2 * np.eye(len(GIFT_KNOTS))
    parts = [
        (np.zeros(len(WAVE_SD)), np.diag(np.square(WAVE_SD))),
        (PEAK, peak),
        (np.array([DEAD_MEAN, BLACK_FRIDAY_MEAN]), np.diag([DEAD_SD**2, HOLIDAY_SD**2])),
        *[(np.full(len(GIFT_KNOTS), GIFT_MEAN), gift)] * 2,
        (np.zeros(1), np.full((1, 1), HOLIDAY_SD**2)),
    ]
    covariance = np.zeros((len(FEATURES), len(FEATURES)))
    first = 0
    for mean, of in parts:
        covariance[first : first + len(mean), first : first + len(mean)] = of
        first += len(mean)
    return np.concatenate([mean for mean, _ in parts]), covariance


# A trend goes on for so long and no longer: after years without sales nobody knows what the shop is like.
FARTHEST_WEEKS = 104
# Drift widens for half a year only, since tastes come back: a walk that went on would ask for more every year, and
# without end where scents are restless. Seasons are planned at most a quarter ahead, where it makes no difference.
DRIFT_WEEKS = 26
