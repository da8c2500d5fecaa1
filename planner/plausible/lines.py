"""Single lines and days that stand out: too many bottles, a day that cannot be."""

from typing import NamedTuple

import numpy as np
import pandas as pd

from planner.plausible.finding import Finding, day, number, span

TIMES_THE_USUAL = 20  # a dozen for a wedding happens; twenty times the usual line is a slip or a stockist
OFTEN = 0.95  # what one line in twenty reaches is how the channel sells, not odd
TIMES_OFTEN = 3  # so many times that is odd again
FEWEST_LINES = 5  # fewer do not tell what is usual for a scent; the channel's usual stands in
STRAY_SHARE = 0.01  # so few lines before a gap are stray days, not how the shop began
STRAY_GAP_DAYS = 365  # a shop that sells at Christmas only is silent for less than this


class Strays(NamedTuple):
    """The lines without the stray ones, and what is to be said about those."""

    lines: pd.DataFrame
    findings: list[Finding]


def place(line: pd.Series) -> str:
    """Say where a line stands: file and row."""
    return f"{line['file']}, row {line['row']:.0f}"


def too_large(sold: pd.DataFrame, refunds: pd.DataFrame) -> list[Finding]:
    """Return the lines far larger than the usual line of that scent in that channel, largest first.

    What was taken back as a whole changes nothing and is left out.
    """
    by = sold.groupby(["channel", "scent"], observed=True)["bottles"]
    lines, channel = by.transform("size"), sold.groupby("channel", observed=True)["bottles"]
    usual = by.transform("median").where(lines >= FEWEST_LINES, channel.transform("median"))
    known = channel.transform("size") >= FEWEST_LINES
    times = sold["bottles"] / usual.clip(lower=1)
    often = times.groupby(sold["channel"], observed=True).quantile(OFTEN, interpolation="lower")
    limit = np.maximum(TIMES_THE_USUAL, TIMES_OFTEN * sold["channel"].map(often).astype("float64"))
    large = sold.assign(times=times, usual=usual)[known & (times >= limit)]
    back = pd.MultiIndex.from_arrays([refunds["channel"], refunds["scent"], -refunds["bottles"]])
    large = large[~pd.MultiIndex.from_frame(large[["channel", "scent", "bottles"]]).isin(back)]
    return [
        Finding(
            "far larger than usual",
            place(line),
            f"On {day(line['day'])} one line sells {number(line['bottles'], 'bottle')} of {line['scent']}, "
            f"{line['times']:,.0f} times its usual line of {line['usual']:,.0f}.",
            f"If it is a slip, pace and forecast of {line['scent']} are too high: put it right in the export. If it is "
            "a stockist's order, wholesale_from in shop.toml keeps such lines apart from shoppers.",
        )
        for _, line in large.sort_values("times", ascending=False, kind="stable").iterrows()
    ]


def far_in_the_past(lines: pd.DataFrame) -> Strays:
    """Part off the few lines that lie more than a year before all the others."""
    counts = lines.groupby("day").size()
    jump = np.diff(counts.index.to_numpy()) > np.timedelta64(STRAY_GAP_DAYS, "D")
    few = counts.cumsum().to_numpy()[:-1] <= STRAY_SHARE * len(lines)
    after = np.flatnonzero(jump & few)
    if not len(after):
        return Strays(lines, [])
    start = counts.index[after[-1] + 1]
    stray = lines[lines["day"] < start].sort_values("day", kind="stable")
    days = span(stray["day"].iloc[0], stray["day"].iloc[-1])
    finding = Finding(
        "far in the past",
        place(stray.iloc[0]),
        f"{number(len(stray), 'line')} of {len(lines):,} dated {days}; all others begin on {day(start)}.",
        "If these days are wrong, the shop seems to have sold almost nothing for the time between, and scents without "
        "first_sold in scents.csv count as for sale since then.",
    )
    return Strays(lines[lines["day"] >= start], [finding])


def after_today(lines: pd.DataFrame, today: pd.Timestamp) -> list[Finding]:
    """Return one finding for the lines after today, if there are any."""
    if lines.empty:
        return []
    last = lines.loc[lines["day"].idxmax()]
    what = f"{number(len(lines), 'line')} dated after today, {day(today)}, up to {day(last['day'])}."
    would = "If the days are wrong, these bottles count in weeks to come and the weeks they belong to are too low."
    return [Finding("after today", place(last), what, would)]


def out_of_its_time(sold: pd.DataFrame, scents: pd.DataFrame) -> list[Finding]:
    """Return the scents that sold before their first day for sale or after their last one, most bottles first."""
    names = sold["scent"].cat.categories
    dates = scents.drop_duplicates("scent").set_index("scent")[["first_sold", "last_sold"]].reindex(names)
    found = []
    for column, what in (("first_sold", "sold before its launch"), ("last_sold", "sold after its last day")):
        limit = dates[column].to_numpy(dtype="datetime64[us]")
        limit = np.append(limit, np.datetime64("NaT", "us"))[sold["scent"].cat.codes]
        out = sold[(sold["day"] < limit) if column == "first_sold" else (sold["day"] > limit)]
        for scent, lines in out.groupby("scent", observed=True):
            found.append((lines["bottles"].sum(), _out_of_its_time(what, column, scent, lines, dates[column][scent])))
    return [finding for _, finding in sorted(found, key=lambda pair: -pair[0])]


def _out_of_its_time(what: str, column: str, scent: str, lines: pd.DataFrame, limit: pd.Timestamp) -> Finding:
    side = "before its first day for sale" if column == "first_sold" else "after its last day for sale"
    days = span(lines["day"].min(), lines["day"].max())
    return Finding(
        what,
        place(lines.loc[lines["day"].idxmin()]),
        f"{scent} sold {number(lines['bottles'].sum(), 'bottle')} on {number(len(lines), 'line')}, {days}, {side}, "
        f"{day(limit)}.",
        f"Sales are believed: unless they are a stray few, {scent} counts as for sale then. If {column} in scents.csv "
        "is wrong, correct it; if the name on these lines is, another scent lacks the bottles.",
    )
