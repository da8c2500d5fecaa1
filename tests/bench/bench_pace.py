"""Judge the ranking on simulated shops whose truth is known: python tests/bench/bench_pace.py [shops] [recorded shops]

1. How often the 90 % range of a pace holds the true one; whether a chance of being the fastest comes true as often as
   it says; how often two scents that do not share a place stand in the right order; whether fading scents do fade.
2. What sold-out scents would have sold in the season before Christmas, with and without stock records, through the
   real shelf_days and weekly_demand.

The shops (tests/simulated_shops.py) are no copies of the model: tastes drift, each Christmas is different for each
scent, weeks go viral, new scents start high, markets are held on two weekends a month, and scents run out in the peak.

The true pace of a scent is its true mean of bottles in the weeks of the pace window since its launch, over the season
of those weeks. The true season of a week is what all scents that were there all year would have sold in it on average,
against the average week of the latest year. Chance (Poisson) and the unevenness of single weeks (gamma) are not in a
mean; drift, viral weeks and the launch are.
"""

import sys
from pathlib import Path

import numpy as np
import pandas as pd

sys.path.insert(0, str(Path(__file__).parents[1]))

from pace_seasons import judge_season
from pace_shops import judge_pace

BINS = [0, 0.02, 0.05, 0.1, 0.2, 0.3, 0.4, 0.5, 0.6, 0.8, 0.95, 1.0]


def told(hits):
    """Share of hits in percent with its standard error."""
    return f"{100 * hits.mean():5.1f} ± {100 * hits.std() / max(len(hits), 1) ** 0.5:.1f} %  (of {len(hits):,})"


def print_pace(rows, pairs):
    """Print coverage by kind of scent, and the calibration of chances."""
    few = pd.cut(rows["bottles"], [-1, 5, 20, 60, np.inf], labels=["0-5", "6-20", "21-60", "over 60"])
    unseen = pd.cut(rows["unseen"], [-0.01, 0.1, 0.3, 1.0], labels=["under 10 %", "10-30 %", "over 30 %"])
    print("90 % range holds the true pace, all scents:  ", told(rows["held"]))
    shops = rows.groupby("shop")["held"].mean()
    print(f"  by shop, mean and standard error:            {100 * shops.mean():.1f} ± {100 * shops.sem():.1f} %")
    for name, group in (("bottles", few), ("weeks off the shelf", unseen), ("at", rows["at"]), ("new", rows["new"])):
        for value, part in rows.groupby(group, observed=True):
            print(f"  {name} {value!s:12} {'':{26 - len(name)}}", told(part["held"]))
    print("  exact range of chance alone, for comparison:", told(rows["raw_held"]))
    print(f"mean of log(pace / true): {rows['error'].mean():+.3f}, its size: {rows['error'].std():.3f}")
    print("Chance of being the fastest: given, and how many were")
    for _, part in rows.groupby(pd.cut(rows["chance_fastest"], BINS, include_lowest=True), observed=True):
        print(f"  {100 * part['chance_fastest'].mean():5.1f} %   ", told(part["fastest"]))
    print("Pairs that share no place are in the right order (at least 80 wanted):", told(pairs["right"]))
    fading = rows[rows["chance_fading"] >= 0.9]
    print("Called fading: true pace against all fell at all:    ", told(fading["true_ratio"] < 0))
    print("               fell by a fifth or more:              ", told(fading["true_ratio"] <= -0.2))
    print(f"               of {rows['chance_fading'].notna().sum():,} scents judged")


def print_season(rows):
    """Print bias of the season's demand of scents that sold 15 to 40 % too little for want of stock.

    "wanted" is what customers really asked for, "expected" its mean: choosing scents that sold far less than was wanted
    chooses those whom chance made wanted, so the first looks a little too low and the second a little too high.
    """
    for records, part in rows.groupby("records", sort=False):
        print(f"{records}: {len(part):,} scents, sold {100 * (part['sold'].sum() / part['wanted'].sum() - 1):+.1f} %")
        for name in ("estimate", "plain"):
            for truth in ("wanted", "expected"):
                bias, error = off_by(part, name, truth)
                print(f"   {name:9} against what was {truth}: {bias:+.1f} ± {error:.1f} %")


def off_by(part, name, truth):
    """Bias of the sum in percent, with its standard error from the shops."""
    shops = part.groupby("shop")[[name, truth]].sum()
    whole = shops[name].sum() / shops[truth].sum()
    return 100 * (whole - 1), 100 * np.sqrt(((shops[name] - whole * shops[truth]) ** 2).sum()) / shops[truth].sum()


def main(shops=1000, recorded=1000):
    """Print both parts."""
    parts = [judge_pace(1000 + seed) for seed in range(shops)]  # constants were chosen on others
    print_pace(*(pd.concat(part, ignore_index=True) for part in zip(*parts, strict=True)))
    if recorded:
        print_season(pd.concat([judge_season(1000 + seed) for seed in range(recorded)], ignore_index=True))


if __name__ == "__main__":
    main(*map(int, sys.argv[1:3]))
