"""The accounting of the sales as a flow: from the files, by what became of their lines, to bottles of each kind."""

import numpy as np
import pandas as pd

from planner.sentences.wording import number

MOST_FILES, MOST_REASONS = 8, 5  # drawn apart; the smaller ones go together, or nobody can read them
BECAME = ("counted", "in another file too", "set aside")
KINDS = {"sale": "sold", "refund": "refunded", "free": "given away", "write-off": "written off"}
WHOLE = "the file is set aside whole"
GAP = 0.05  # of the height between two boxes, so that the words beside small ones do not meet
CURVE = 25  # points along one ribbon: enough to look round
BOX = 0.04  # width of a box, the way from one column of boxes to the next being 1


def line_flow(sales: pd.DataFrame, set_aside: pd.DataFrame, accounts: pd.DataFrame) -> pd.DataFrame:
    """Return how many lines of each file went where: file, became (one of BECAME), ends, lines, bottles.

    `ends` is the kind of bottles for lines that count, the reason for those set aside. The lines add up to the lines
    read, the bottles to those in the accounts; lines that do not count have no bottles.
    """
    begins = ~sales.duplicated(["file", "row", "day"])  # a gift set gives a row for each scent
    kinds = sales[["file", "kind"]].assign(lines=begins, bottles=sales["bottles"].abs(), became=BECAME[0])
    kinds["ends"] = kinds["kind"].map(KINDS)
    merged = accounts.loc[accounts["merged"] > 0, ["file", "merged"]].rename(columns={"merged": "lines"})
    merged = merged.assign(became=BECAME[1], ends="counted there", bottles=0)
    reason = set_aside["reason"].str.replace("'.*'", "…", regex=True).str.removesuffix(".")
    aside = set_aside[["file"]].assign(became=BECAME[2], ends=reason, lines=1, bottles=0)
    alone = accounts["file"].map(set_aside["file"].value_counts()).fillna(0)
    whole = accounts.assign(became=BECAME[2], ends=WHOLE, lines=accounts["set_aside"] - alone, bottles=0)
    aside = pd.concat([aside, whole.loc[whole["lines"] > 0, aside.columns]], ignore_index=True)
    aside["ends"] = _few(aside["ends"], aside["lines"], MOST_REASONS, "reasons")
    flow = pd.concat([part[_COLUMNS] for part in (kinds, merged, aside)], ignore_index=True)
    flow[_NUMBERS] = flow[_NUMBERS].astype("int64")
    flow["file"] = _few(flow["file"], flow["lines"], MOST_FILES, "files")
    return flow.groupby(_COLUMNS[:3], sort=False)[_NUMBERS].sum().reset_index()


_NUMBERS = ["lines", "bottles"]
_COLUMNS = ["file", "became", "ends", *_NUMBERS]


def _few(names: pd.Series, lines: pd.Series, most: int, word: str) -> pd.Series:
    """Return the names, those with the fewest lines put together where there are more than so many."""
    by_size = lines.groupby(names).sum().sort_values(ascending=False, kind="stable")
    rest = by_size.index[most - 1 :]
    return names.mask(names.isin(rest), f"{len(rest)} other {word}") if len(by_size) > most else names


def boxes(flow: pd.DataFrame) -> pd.DataFrame:
    """Return the boxes of the picture of a flow: step (0 to 2), name, became, lines, low, high (0 to 1), words, above.

    `words` stand beside the box, `above` stands above it. All columns of boxes are drawn to one scale, what counts at
    the top.
    """
    parts = []
    for step, by in enumerate(_STEPS):
        sums = flow.groupby(by, sort=False)[_NUMBERS].sum().reset_index()
        sums = sums.assign(step=step, name=sums[by[-1]], became=sums["became"] if step else "read")
        sums["place"] = sums["became"].map(BECAME.index) if step else 0
        parts.append(sums.sort_values(["place", "lines"], ascending=[True, False], kind="stable"))
    table = pd.concat(parts, ignore_index=True)
    size = table["lines"] * (1 - GAP * (max(map(len, parts)) - 1)) / max(flow["lines"].sum(), 1)
    above = size.groupby(table["step"]).cumsum() + GAP * table.groupby("step").cumcount()
    table = table.assign(low=1 - above, high=1 - above + size, words=_words(table))
    table["above"] = table["name"].where(table["step"] == 0, "")
    thin = (table["step"] == 0) & (size < GAP)  # no room beside it, the words stand above
    table["above"] = table["above"].mask(thin, table["above"] + ": " + table["words"])
    table["words"] = table["words"].mask(thin, "")
    return table[["step", "name", "became", "lines", "low", "high", "words", "above"]]


_STEPS = (["file"], ["became"], ["became", "ends"])


def _words(table: pd.DataFrame) -> list[str]:
    words = []
    for step, name, became, lines, bottles in table[["step", "name", "became", *_NUMBERS]].itertuples(index=False):
        what = f"{number(bottles, 'bottle')} {name}" if step == 2 and became == BECAME[0] else name
        words.append(f"{what}: {number(lines, 'line')}" if step else number(lines, "line"))
    return words


def ribbons(flow: pd.DataFrame, places: pd.DataFrame) -> pd.DataFrame:
    """Return the outlines of the ribbons between the boxes: ribbon (a number), became, x (0 to 2), low, high.

    A ribbon is as thick as its lines are many, so that those leaving a box fill it.

    places: what `boxes` returns.
    """
    number_of = {
        key: at for at, key in enumerate(places[["step", "became", "name"]].itertuples(index=False, name=None))
    }
    flow = flow.assign(
        first=[number_of[0, "read", file] for file in flow["file"]],
        middle=[number_of[1, became, became] for became in flow["became"]],
        last=[number_of[2, became, ends] for became, ends in zip(flow["became"], flow["ends"], strict=True)],
    )
    parts = [
        _outlines(flow, places, step, *pair) for step, pair in enumerate((("first", "middle"), ("middle", "last")))
    ]
    table = pd.concat(parts, ignore_index=True)
    return table.assign(ribbon=table.index // CURVE)


def _outlines(flow: pd.DataFrame, places: pd.DataFrame, step: int, begin: str, end: str) -> pd.DataFrame:
    """Return the outlines of the ribbons from one column of boxes to the next, CURVE rows each."""
    links = flow.groupby([begin, end, "became"])["lines"].sum().reset_index()  # in the order of the boxes
    scale = ((places["high"] - places["low"]).sum() / places["lines"].sum()) if len(places) else 0.0
    size = (links["lines"] * scale).to_numpy()
    left, right = (
        places["high"].to_numpy()[links[side]] - (links.groupby(side)["lines"].cumsum() * scale).to_numpy()
        for side in (begin, end)
    )
    along = np.linspace(0, 1, CURVE)
    low = left[:, None] + (right - left)[:, None] * (along**2 * (3 - 2 * along))
    return pd.DataFrame(
        {
            "became": np.repeat(links["became"].to_numpy(), CURVE),
            "x": np.tile(step + BOX / 2 + along * (1 - BOX), len(links)),
            "low": low.ravel(),
            "high": (low + size[:, None]).ravel(),
        }
    )
