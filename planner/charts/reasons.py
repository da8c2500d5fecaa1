"""Pictures of what drove the forecast."""

import altair as alt
import pandas as pd

from planner.charts.theme import DASH, FORECAST, LIMIT, MUTED, RANGE_OPACITY, SIGNAL, SOLD, WIDTH

TIME = alt.Axis(format="%b %Y", tickCount=6, labelOverlap=True)
WEEK_TIP = alt.Tooltip("week:T", title="week of", format="%d %b %Y")


def departures_chart(departures: pd.DataFrame, description: str) -> alt.FacetChart:
    """Draw each scent's holidays beside the shop's own (scent, what, factor, low, high)."""
    title = "times the shop's lift"
    base = alt.Chart(departures).encode(y=alt.Y("scent:N", title=None, sort=None))
    across = alt.X(
        "low:Q", title=title, scale=alt.Scale(type="log", nice=False), axis=alt.Axis(values=[0.5, 0.7, 1, 1.4, 2, 3])
    )
    lines = base.mark_rule(color=FORECAST, strokeWidth=6, opacity=0.4).encode(x=across, x2="high:Q")
    tips = ["scent:N", *(alt.Tooltip(f"{name}:Q", format=".2f") for name in ("low", "factor", "high"))]
    points = base.mark_point(color=LIMIT, size=50).encode(x=alt.X("factor:Q", title=title), tooltip=tips)
    same = alt.Chart(departures).mark_rule(color=MUTED, strokeDash=list(DASH)).encode(x=alt.datum(1, title=title))
    panel = alt.layer(same, lines, points).properties(width=150, height=alt.Step(20))
    order = ["Christmas", "Valentine's Day", "Mother's Day"]
    return panel.facet(column=alt.Column("what:N", title=None, sort=order)).properties(
        title=alt.Title(
            "How each scent departs from the shop's holidays",
            subtitle="Dot: most likely. Line: 8 in 10. On the dashed line it sells as all scents do.",
        ),
        description=description,
    )


def shop_level_chart(level: pd.DataFrame, description: str) -> alt.LayerChart | alt.FacetChart:
    """Draw how the pace of a usual scent came to be what it is, season taken out (week, factor, low, high)."""
    title = "times today's level"
    base = alt.Chart(level).encode(x=alt.X("week:T", title=None, axis=TIME))
    band = base.mark_area(color=FORECAST, opacity=RANGE_OPACITY).encode(y=alt.Y("low:Q", title=title), y2="high:Q")
    tips = [WEEK_TIP, *(alt.Tooltip(f"{name}:Q", format=".2f") for name in ("low", "factor", "high"))]
    line = base.mark_line(color=FORECAST).encode(
        y=alt.Y("factor:Q", title=title, scale=alt.Scale(zero=False)), tooltip=tips
    )
    now = alt.Chart(level.tail(1)).mark_rule(color=MUTED, strokeDash=list(DASH)).encode(y=alt.datum(1, title=title))
    return alt.layer(band, line, now).properties(
        title=alt.Title(
            "Where the shop's level comes from",
            subtitle="A usual scent, season and sold-out days taken out. Dashed: today. Band: 8 in 10.",
        ),
        width=WIDTH,
        height=200,
        description=description,
    )


def unsold_chart(weeks: pd.DataFrame, description: str) -> alt.Chart:
    """Draw what was sold each week and, on top, what was wanted and not there (week, part, bottles)."""
    parts = ["sold", "wanted and not there"]
    colours = alt.Scale(domain=parts, range=[SOLD, SIGNAL])
    return (
        alt.Chart(weeks)
        .mark_bar()
        .encode(
            x=alt.X("week:T", title=None, axis=TIME),
            y=alt.Y("bottles:Q", title="bottles a week, all scents", stack="zero"),
            color=alt.Color("part:N", title=None, scale=colours),
            order=alt.Order("part:N"),
            tooltip=[WEEK_TIP, "part:N", alt.Tooltip("bottles:Q", format=",.0f")],
        )
        .properties(
            title=alt.Title("What stock-outs hid", subtitle="Orange: an estimate of what nobody could buy."),
            width=WIDTH,
            height=220,
            description=description,
        )
    )


def changes_chart(changes: pd.DataFrame, description: str) -> alt.LayerChart | alt.FacetChart:
    """Draw how much each change would move the season, the strongest first (what, change)."""
    base = alt.Chart(changes).encode(
        y=alt.Y("what:N", title=None, sort=None, axis=alt.Axis(labelLimit=330)),
        tooltip=["what:N", alt.Tooltip("change:Q", format="+,.0f"), "most_affected:N"],
    )
    title = "bottles more or fewer in the season"
    bars = base.mark_bar(color=FORECAST).encode(x=alt.X("change:Q", title=title))
    zero = alt.Chart(changes.head(1)).mark_rule(color=LIMIT).encode(x=alt.datum(0, title=title))
    return alt.layer(bars, zero).properties(
        title=alt.Title("What would change it most", subtitle="The same season, drawn again with one thing different."),
        width=300,
        height=alt.Step(22),
        description=description,
    )
