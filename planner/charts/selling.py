"""Pictures of what was wanted."""

import altair as alt
import pandas as pd

from planner.charts.theme import LIMIT, SIGNAL, SOLD, WIDTH


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
