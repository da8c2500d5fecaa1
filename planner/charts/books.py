"""Pictures of the books: what the files say was sold, and what became of every line of them."""

import altair as alt
import pandas as pd

from planner.charts.theme import LAST_YEAR, MUTED, ON_HAND, SIGNAL, SOLD, WIDTH
from planner.line_flow import BECAME, BOX

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


COLOURS = dict(zip(("read", *BECAME), (MUTED, SOLD, LAST_YEAR, SIGNAL), strict=True))


def line_flow_chart(boxes: pd.DataFrame, ribbons: pd.DataFrame, description: str) -> alt.LayerChart | alt.FacetChart:
    """Draw the way of the lines from the files to bottles counted (line_flow.boxes and line_flow.ribbons)."""
    x = alt.X("x:Q", axis=None, scale=alt.Scale(domain=[-0.03, 2.95], nice=False))
    height = alt.Y("high:Q", axis=None, scale=alt.Scale(domain=[-0.02, 1.04], nice=False))
    colour = alt.Color("became:N", legend=None, scale=alt.Scale(domain=list(COLOURS), range=list(COLOURS.values())))
    flows = alt.Chart(ribbons).mark_area(opacity=0.3).encode(x=x, y=height, y2="low:Q", color=colour, detail="ribbon:N")
    base = alt.Chart(boxes).transform_calculate(
        x=f"datum.step - {BOX / 2}", right=f"datum.step + {BOX / 2}", middle="(datum.low + datum.high) / 2"
    )
    bars = base.mark_rect().encode(
        x=x, x2="right:Q", y=height, y2="low:Q", color=colour, tooltip=["name:N", alt.Tooltip("lines:Q", format=",d")]
    )
    words = base.mark_text(align="left", dx=5, limit=240).encode(x="right:Q", y="middle:Q", text="words:N")
    files = base.mark_text(align="left", baseline="bottom", dy=-2, limit=190)
    return alt.layer(flows, bars, words, files.encode(x="x:Q", y="high:Q", text="above:N")).properties(
        title=alt.Title("Every line of every file has a place", subtitle="The more lines, the thicker the stream."),
        height=380,
        width=WIDTH,
        description=description,
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
