"""What to make, buy and weigh, and what was lost, in sentences."""

import pandas as pd

from planner.sentences.wording import day, money, names, number
from planner.settings import Settings


def say_plan(plan: pd.DataFrame, bench: pd.DataFrame, settings: Settings) -> str:
    """Say how many batches to make of what, by when, and what that should bring."""
    if bench.empty:
        return "No batch is worth making now: what is on hand covers the season, or the limits allow none."
    top = plan.sort_values("batches", ascending=False, kind="stable")
    some = [f"{line.batches} of {line.scent}" for line in top[top["batches"] > 0].itertuples()]
    return (
        f"Make {number(len(bench), 'batch', 'batches')} ({number(bench['bottles'].sum(), 'bottle')}): "
        f"{names(some, 'more scents')}. "
        f"The first is mixed on {day(bench['mix_on'].min())}, the last on {day(bench['mix_on'].max())}. "
        f"Expected contribution of the season: {money(plan['contribution'].sum(), settings)}, "
        "what is left over taken off."
    )


def say_risk(plan: pd.DataFrame) -> str:
    """Say which scents will likely sell out all the same, and where most may be left over."""
    likely = plan[plan["chance_sold_out"] > 0.5].sort_values("chance_sold_out", ascending=False, kind="stable")
    left = plan.loc[plan["expected_left_over"].idxmax()] if len(plan) else None
    out = (
        f"More likely than not to sell out: {names(list(likely['scent']))}."
        if len(likely)
        else ("No scent is more likely than not to sell out.")
    )
    over = (
        f" Most left over on average: {left['scent']}, {number(left['expected_left_over'], 'bottle')}."
        if left is not None
        else ""
    )
    return out + over


def say_buying(buying: pd.DataFrame, today: pd.Timestamp, settings: Settings) -> str:
    """Say what must be bought first, by when, and what all of it costs; late things first."""
    if buying.empty:
        return "Nothing is on the buying list: no batch is planned, or what it is made of is not known."
    short = buying[buying["packs"] > 0]
    unlisted = list(buying.loc[buying["packs"].isna(), "material"])
    unfound = f" No pack is listed of {names(unlisted)}: find who sells it." if unlisted else ""
    if short.empty:
        return unfound.strip() or "Nothing needs buying: what is on hand covers the planned batches."
    late = short[short["order_by"] < today]
    first = short.sort_values("order_by", kind="stable").iloc[0]
    lead = (
        f"Too late to arrive in time if ordered today: {names(list(late['material']))}. "
        "Move those batches or ask the supplier. "
        if len(late)
        else f"Order {first['material']} first, by {day(first['order_by'])}. "
    )
    total, unpriced = short["cost"].sum(), int(short["cost"].isna().sum())
    said = f"{lead}{number(len(short), 'material')} must be bought, for {money(total, settings)} in all.{unfound}"
    if unpriced:
        said += f" The price of {number(unpriced, 'of them is', 'of them are')} not known."
    if settings.money_available is not None and total > settings.money_available:
        said += (
            f" That is more than the {money(settings.money_available, settings)} there is to spend: the plan counts "
            "what its batches use, and whole packs hold more."
        )
    return said


def say_weigh_out(batches: pd.DataFrame, refused: pd.DataFrame) -> str:
    """Say how many batches may be weighed, how close to the skin limit, and which must not be made."""
    made = f"{number(len(batches), 'batch', 'batches')} can be weighed out."
    if len(batches):
        close = (batches["load_pct"] / batches["limit_pct"]).astype("float64")
        made += f" The closest to its skin limit is {batches.loc[close.idxmax(), 'scent']}, at {close.max():.0%} of it."
    stopped = list(dict.fromkeys(refused["scent"]))
    return made + (
        f" No batch may be made of {names(stopped)} as it stands: the reasons are in the table."
        if stopped
        else " None is refused."
    )


def say_losses(losses: pd.DataFrame, runs: pd.DataFrame, settings: Settings) -> str:
    """Say how much oil is lost, what that costs, and which runs stand out."""
    if losses.empty:
        return "No run could be balanced yet: that takes runs.csv and weighed.csv."
    lost = losses[["rejected_g", "residue_g", "unexplained_g"]].sum().sum()
    share = lost / losses["weighed_g"].sum()
    signals = runs[runs["signal"] != ""]
    stand = "stands" if len(signals) == 1 else "stand"
    found = (
        f"{number(len(signals), 'run')} {stand} out: {names(list(signals['lot']))}."
        if len(signals)
        else "No run stands out."
    )
    return (
        f"Over {number(len(losses), 'run')}, {lost:,.0f} g of {losses['weighed_g'].sum():,.0f} g of oil was lost "
        f"({share:.1%}), worth {money(losses['cost'].sum(), settings)}. {found}"
    )


def say_learned(overage: pd.DataFrame, minutes: pd.DataFrame) -> str:
    """Say what the next batch is weighed over, how long it takes, and how that is known."""
    extra, time = overage.iloc[0], minutes.iloc[0]
    return (
        f"For the next batch: weigh {extra['fixed_g']:.1f} g over, and {extra['share']:.1%} of the oil "
        f"({extra['known']}); allow {time['setup_minutes']:.0f} minutes for a batch and "
        f"{time['minutes_per_bottle']:.1f} for each bottle ({time['known']})."
    )
