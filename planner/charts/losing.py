"""Pictures of where the oil goes and whether it changed."""

import altair as alt
import pandas as pd

from planner.charts.theme import DASH, LIMIT, SIGNAL, SOLD, WIDTH
from planner.summaries import PARTS

# from what the customer still gets to what nobody can account for, which has the signal's colour
PART_COLOURS = ("#56B4E9", "#009E73", "#CC79A7", "#E69F00", SIGNAL)


def loss_control_chart(runs: pd.DataFrame, description: str) -> alt.LayerChart | alt.FacetChart:
    """Draw the loss share of each run in time order with its limits; only signals are coloured and named.

    Takes lot, date, loss_share, centre, lower, upper, signal and trial (see planner.control).
    """
    order = list(runs["lot"])
    x = alt.X("lot:N", title="run, in order of date", sort=order, axis=alt.Axis(labelAngle=-90))
    y = "lost share of weighed oil"
    base = alt.Chart(runs).encode(x=x)
    limits = [
        base.mark_line(color=LIMIT, strokeDash=list(DASH), strokeWidth=1.5).encode(y=alt.Y(f"{name}:Q", title=y))
        for name in ("upper", "lower")
    ]
    percent = alt.Axis(format=".0%")
    centre = base.mark_line(color=LIMIT, strokeWidth=1.5).encode(y=alt.Y("centre:Q", title=y))
    line = base.mark_line(color=SOLD, strokeWidth=1).encode(y=alt.Y("loss_share:Q", title=y, axis=percent))
    signal = "datum.signal != ''"
    points = base.mark_point(size=55, opacity=1).encode(
        y=alt.Y("loss_share:Q", title=y),
        color=alt.condition(signal, alt.value(SIGNAL), alt.value(SOLD)),
        shape=alt.condition(signal, alt.value("triangle-up"), alt.value("circle")),
        tooltip=["lot:N", "date:T", alt.Tooltip("loss_share:Q", format=".1%"), "signal:N"],
    )
    trial = bool(runs["trial"].any()) if len(runs) else False
    caveat = (
        "Dashed: limits of usual runs"
        + (", trial ones, from few runs. " if trial else ". ")
        + "Triangle: look at this run."
    )
    return alt.layer(*limits, centre, line, points).properties(
        title=alt.Title("Oil lost in each run", subtitle=caveat), width=WIDTH, height=260, description=description
    )


def oil_parts_chart(parts: pd.DataFrame, description: str) -> alt.Chart:
    """Draw where the oil went that is not in bottles to sell at the label, as shares of all (oil_parts)."""
    order = list(dict.fromkeys(parts["lot"]))
    rest = list(PARTS.values())[1:]
    colours = alt.Scale(domain=rest, range=list(PART_COLOURS))
    return (
        alt.Chart(parts)
        .transform_filter("datum.order > 0")
        .mark_bar(stroke="white", strokeWidth=0.5)
        .encode(
            y=alt.Y("lot:N", title="run", sort=order),
            x=alt.X("share:Q", title="share of weighed oil", axis=alt.Axis(format=".0%"), stack="zero"),
            color=alt.Color("part:N", title=None, scale=colours, legend=alt.Legend(columns=3)),
            order=alt.Order("order:Q"),
            tooltip=["lot:N", "part:N", alt.Tooltip("grams:Q", format=".1f"), alt.Tooltip("share:Q", format=".1%")],
        )
        .properties(
            title=alt.Title(
                "Where the rest of the oil went",
                subtitle="What is missing to 100 % is in bottles to sell, at the label.",
            ),
            height=alt.Step(15),
            width=WIDTH,
            description=description,
        )
    )


def loss_causes_chart(causes: pd.DataFrame, description: str) -> alt.LayerChart | alt.FacetChart:
    """Draw the oil that never reached a customer as asked, by cause, most first (loss_by_cause)."""
    base = alt.Chart(causes).encode(y=alt.Y("cause:N", title=None, sort=list(causes["cause"])))
    bars = base.mark_bar(color=SOLD).encode(x=alt.X("grams:Q", title="grams of oil, all runs"))
    labels = base.mark_text(align="left", dx=6).encode(x="grams:Q", text=alt.Text("share:Q", format=".1%"))
    return alt.layer(bars, labels).properties(
        title=alt.Title("What the losses are made of", subtitle="Percent: share of all oil weighed."),
        height=alt.Step(28),
        width=WIDTH,
        description=description,
    )
