"""Pictures of what was wanted."""

import altair as alt
import pandas as pd

from planner.charts.theme import DASH, LIMIT, MUTED, SIGNAL, SOLD, WIDTH


def pace_chart(pace: pd.DataFrame, description: str, weeks: str = "") -> alt.LayerChart | alt.FacetChart:
    """Draw the ranking (see ranking.with_notes): bottles a week on the shelf with the range that holds nine in ten.

    `weeks` says of which weeks it is made; the average that paces are drawn to is a dashed line.
    """
    y = alt.Y("scent:N", title=None, sort=list(pace["scent"]))
    ends = [
        alt.Tooltip("scent:N"),
        alt.Tooltip("pace:Q", format=".1f"),
        alt.Tooltip("pace_low:Q", title="low end", format=".1f"),
        alt.Tooltip("pace_high:Q", title="high end", format=".1f"),
        alt.Tooltip("chance_fastest:Q", title="chance of being the fastest", format=".0%"),
    ]
    base = alt.Chart(pace).encode(y=y, tooltip=ends)
    title = "bottles a week on the shelf, season-adjusted"
    average = alt.Chart(pace).mark_rule(color=MUTED, strokeDash=list(DASH))
    average = average.encode(x=alt.X("max(average_pace):Q", title=title))
    lines = base.mark_rule(strokeWidth=3, color=SOLD, opacity=0.5).encode(
        x=alt.X("pace_low:Q", title=title, scale=alt.Scale(zero=True)), x2="pace_high:Q"
    )
    color = alt.condition("datum.place != ''", alt.value(SOLD), alt.value(MUTED))
    points = base.mark_point(size=70).encode(x=alt.X("pace:Q", title=title), color=color)
    places = (
        base.transform_calculate(
            label="(datum.place || 'too few weeks to rank') + (datum.note ? ', ' + datum.note : '')"
        )
        .mark_text(align="left", dx=8, color=LIMIT)
        .encode(x="pace_high:Q", text="label:N")
    )
    return alt.layer(average, lines, points, places).properties(
        title=alt.Title(
            "How fast each scent sells",
            subtitle=[
                *([f"Sales {weeks}."] if weeks else []),
                "Line: range that holds nine times in ten. Number: place, from the first to the last it may hold.",
                "Dashed: the average scent, to which few sales are drawn.",
            ],
        ),
        height=alt.Step(24),
        width=WIDTH,
        description=description,
    )


PANELS = 3  # side by side
FIRST_WEEKS = 26  # drawn after a launch: half a year
PANEL_WIDTH, PANEL_HEIGHT = 160, 78
DOT = 6  # area of the dot of a week [px]


def scent_weeks_chart(weeks: pd.DataFrame, order: list[str], description: str) -> alt.FacetChart:
    """Draw each scent's weeks, with a dot for each week known and bands where it was sold out.

    The columns are those of wanted.latest_weeks. What was inferred is lighter and has a dashed edge, and a week that
    is not over has an open dot.
    """
    base = alt.Chart(weeks).encode(x=alt.X("week:T", title=None, axis=alt.Axis(format="%b %y", tickCount=3)))
    sold = base.encode(
        y=alt.Y("bottles:Q", title=None, axis=alt.Axis(tickCount=3)),
        tooltip=[
            alt.Tooltip("week:T", title="week of", format="%d %b %Y"),
            "bottles:Q",
            "shelf_days:Q",
            alt.Tooltip("known:N", title="how it is known"),
        ],
    )
    layers = [
        _sold_out(base, "!datum.guessed", 0.65, 0),
        _sold_out(base, "datum.guessed", 0.25, 0.8),
        sold.mark_line(color=SOLD, strokeWidth=1),
        sold.transform_filter("!datum.not_over").mark_point(color=SOLD, size=DOT, opacity=1),
        sold.transform_filter("datum.not_over").mark_point(
            stroke=SOLD, fill="white", size=5 * DOT, strokeWidth=1, opacity=1
        ),
    ]
    panel = alt.layer(*layers).properties(width=PANEL_WIDTH, height=PANEL_HEIGHT)
    title = alt.Title(
        "Bottles sold each week",
        subtitle=[
            "Shaded: sold out, the darker the more of the week. Lighter with a dashed edge: not sure, but inferred",
            "from days without a sale, or doubted by a later count. Neither dot nor shade: nobody could buy it",
            "(closed, no market, not for sale). Open dot: that week is not over. Each scent has a scale of its own.",
        ],
    )
    drawn = panel.facet(facet=alt.Facet("scent:N", title=None, sort=order), columns=PANELS)
    return drawn.resolve_scale(y="independent").properties(title=title, description=description)


def _sold_out(base: alt.Chart, which: str, dark: float, edge: float) -> alt.Chart:
    """Bands over the weeks sold out that fit, as dark as that for a whole week, with a dashed edge of some opacity."""
    return (
        base.transform_filter(f"datum.off_shelf > 0 && {which}")
        .transform_calculate(until="datetime(time(datum.week) + 7 * 864e5)", shade=f"{dark} * datum.off_shelf")
        .mark_rect(fill=SIGNAL, stroke=SIGNAL, strokeDash=[2, 2], strokeWidth=1, strokeOpacity=edge)
        .encode(x2="until:T", fillOpacity=alt.FillOpacity("shade:Q", scale=None))
    )


def launch_chart(launches: pd.DataFrame, description: str) -> alt.FacetChart:
    """Draw first seasons side by side: pace against the average scent, by weeks since launch (see ranking.newest)."""
    base = alt.Chart(launches).encode(
        x=alt.X(
            "middle_week:Q",
            title="weeks since launch",
            axis=alt.Axis(tickCount=4),
            scale=alt.Scale(domain=[0, FIRST_WEEKS]),
        )
    )
    ratio = alt.Y("ratio:Q", title="times the average", axis=alt.Axis(tickCount=4))
    average = alt.Chart(launches).mark_rule(color=MUTED, strokeDash=list(DASH)).encode(y=alt.datum(1))
    ranges = base.mark_rule(strokeWidth=3, color=SOLD, opacity=0.4).encode(
        y=alt.Y("ratio_low:Q", title="times the average"), y2="ratio_high:Q"
    )
    points = base.mark_line(color=SOLD, point=True, strokeWidth=1.3).encode(
        y=ratio,
        tooltip=[
            "scent:N",
            alt.Tooltip("first_week:Q", title="from week"),
            alt.Tooltip("last_week:Q", title="to week"),
            "bottles:Q",
            alt.Tooltip("ratio:Q", format=".2f"),
        ],
    )
    panel = alt.layer(average, ranges, points).properties(width=PANEL_WIDTH, height=110)
    title = alt.Title(
        "How new scents began",
        subtitle="Pace against the average scent in the same weeks; 1 is average. Line: holds nine times in ten.",
    )
    order = list(launches["scent"].drop_duplicates())
    return panel.facet(facet=alt.Facet("scent:N", title=None, sort=order), columns=PANELS).properties(
        title=title, description=description
    )
