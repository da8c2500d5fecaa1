"""Pictures of what was sold and what was wanted."""

import altair as alt
import pandas as pd

from planner.charts.theme import LIMIT, ON_HAND, SIGNAL, SOLD, WIDTH

WEEK = alt.X("week:T", title=None, axis=alt.Axis(format="%b %Y", tickCount=8))


def weekly_sales_chart(weekly: pd.DataFrame, description: str) -> alt.FacetChart:
    """Draw bottles sold per week, one row a channel; gaps shaded, a week not over in another colour (weekly_sales)."""
    base = (
        alt.Chart(weekly)
        .transform_calculate(until="datetime(time(datum.week) + 7 * 864e5)")
        .encode(x=WEEK, x2="until:T")
    )
    gaps = base.transform_filter("datum.gap").mark_rect(color=SIGNAL, opacity=0.3)
    bars = base.mark_rect().encode(
        y=alt.Y("bottles:Q", title="bottles a week"),
        y2=alt.datum(0),
        color=alt.condition("datum.cut_off", alt.value(ON_HAND), alt.value(SOLD)),
        tooltip=[alt.Tooltip("week:T", title="week of", format="%d %b %Y"), "channel:N", "bottles:Q", "cut_off:N"],
    )
    title = alt.Title(
        "Bottles sold each week, by channel",
        subtitle="Shaded: no sale in a channel that is open every day. Last bar in another colour: week not over.",
    )
    return (
        alt.layer(gaps, bars)
        .properties(width=WIDTH, height=90)
        .facet(facet=alt.Facet("channel:N", title=None), columns=1)
        .resolve_scale(y="independent")
        .properties(title=title, description=description)
    )


OUTCOMES = {"counted": SOLD, "merged": "#56B4E9", "set aside": SIGNAL}


def outcome_chart(outcomes: pd.DataFrame, description: str) -> alt.LayerChart | alt.FacetChart:
    """Draw what became of the lines of each file (file, outcome, lines)."""
    base = alt.Chart(outcomes).encode(
        y=alt.Y("file:N", title=None),
        x=alt.X("lines:Q", title="lines in the file", stack=True, axis=alt.Axis(tickCount=6)),
        order=alt.Order("outcome:N"),
    )
    bars = base.mark_bar(stroke="white").encode(
        color=alt.Color("outcome:N", title=None, scale=alt.Scale(domain=list(OUTCOMES), range=list(OUTCOMES.values()))),
        tooltip=["file:N", "outcome:N", "lines:Q"],
    )
    return alt.layer(bars).properties(
        title="Every line of every file has a place",
        height=alt.Step(36),
        width=WIDTH,
        description=description,
    )


def pace_chart(pace: pd.DataFrame, description: str) -> alt.LayerChart | alt.FacetChart:
    """Draw the ranking of scents: bottles a week on the shelf with the range that holds nine times in ten."""
    order = list(pace["scent"])
    y = alt.Y("scent:N", title=None, sort=order)
    ends = [
        alt.Tooltip("scent:N"),
        alt.Tooltip("pace:Q", format=".1f"),
        alt.Tooltip("pace_low:Q", title="low end", format=".1f"),
        alt.Tooltip("pace_high:Q", title="high end", format=".1f"),
        alt.Tooltip("chance_fastest:Q", title="chance of being the fastest", format=".0%"),
    ]
    base = alt.Chart(pace).encode(y=y, tooltip=ends)
    title = "bottles a week on the shelf, season-adjusted"
    lines = base.mark_rule(strokeWidth=3, color=SOLD, opacity=0.5).encode(
        x=alt.X("pace_low:Q", title=title, scale=alt.Scale(zero=True)), x2="pace_high:Q"
    )
    points = base.mark_point(color=SOLD, size=70).encode(x=alt.X("pace:Q", title=title))
    places = base.mark_text(align="left", dx=8, color=LIMIT).encode(
        x="pace_high:Q", text=alt.Text("rank:Q", format="d")
    )
    return alt.layer(lines, points, places).properties(
        title=alt.Title(
            "How fast each scent sells",
            subtitle="Line: range that holds nine times in ten. Number: place; equal places cannot be told apart.",
        ),
        height=alt.Step(24),
        width=WIDTH,
        description=description,
    )


def scent_weeks_chart(weeks: pd.DataFrame, order: list[str], description: str) -> alt.FacetChart:
    """Draw each scent's weeks, with a band where it was sold out all week (week, scent, bottles, sold_out)."""
    base = alt.Chart(weeks).encode(x=alt.X("week:T", title=None, axis=alt.Axis(format="%b %y", tickCount=3)))
    out = (
        base.transform_filter("datum.sold_out")
        .transform_calculate(until="datetime(time(datum.week) + 7 * 864e5)")
        .mark_rect(color=SIGNAL, opacity=0.35)
        .encode(x2="until:T")
    )
    line = base.mark_line(color=SOLD, strokeWidth=1.3).encode(
        y=alt.Y("bottles:Q", title=None),
        tooltip=[alt.Tooltip("week:T", title="week of", format="%d %b %Y"), "bottles:Q", "shelf_days:Q"],
    )
    panel = alt.layer(out, line).properties(width=160, height=70)
    title = alt.Title(
        "Bottles wanted each week", subtitle="Shaded: sold out the whole week, so what was wanted is not known."
    )
    return panel.facet(facet=alt.Facet("scent:N", title=None, sort=order), columns=3).properties(
        title=title, description=description
    )


def unknown_names_chart(names: pd.DataFrame, description: str) -> alt.LayerChart | alt.FacetChart:
    """Draw the items that are no scent of the shop by the bottles at stake (item, lines, bottles)."""
    base = alt.Chart(names).encode(
        y=alt.Y("item:N", title=None, sort=list(names["item"])), tooltip=["item:N", "lines:Q", "bottles:Q"]
    )
    bars = base.mark_bar(color=SIGNAL).encode(
        x=alt.X("bottles:Q", title="bottles not counted", axis=alt.Axis(tickMinStep=1, tickCount=6))
    )
    labels = base.mark_text(align="left", dx=6).encode(x="bottles:Q", text=alt.Text("bottles:Q", format=",d"))
    return alt.layer(bars, labels).properties(
        title="Items that are no scent in scents.csv", height=alt.Step(26), width=WIDTH, description=description
    )
