"""Pictures of what the season will ask for, and how such forecasts did before."""

import altair as alt
import pandas as pd

from planner.charts.theme import DASH, FORECAST, LAST_YEAR, LIMIT, RANGE_OPACITY, SIGNAL, WIDTH

MOST_LABELS = 10  # Mondays with a label on the axis
ROOM = 1.3  # times the highest point: names of holidays stand above it
CLEAR = 0.08  # of the picture's height: so far are names of lines from each other and from the axis
FORESEEN = "foreseen"
LAST_YEAR_TEXT = "#1F6F9E"  # LAST_YEAR dark enough to read on white
WEEK_TIP = alt.Tooltip("week:T", title="week of", format="%d %b %Y")


def season_weeks_chart(weeks: pd.DataFrame, description: str) -> alt.LayerChart | alt.FacetChart:
    """Draw the season week by week for all scents, beside the same weeks a year before (with_last_year)."""
    axis = alt.Axis(format="%d %b", values=_mondays(weeks), labelOverlap=True)
    base = alt.Chart(weeks).encode(x=alt.X("week:T", title="week from Monday", axis=axis))
    y = "bottles a week, all scents"
    wide = base.mark_area(color=FORECAST, opacity=RANGE_OPACITY).encode(y=alt.Y("p10:Q", title=y), y2="p90:Q")
    narrow = base.mark_area(color=FORECAST, opacity=RANGE_OPACITY).encode(y=alt.Y("p25:Q", title=y), y2="p75:Q")
    tips = [WEEK_TIP, *(alt.Tooltip(f"{name}:Q", format=",.0f") for name in ("p10", "p50", "p90", "last_year"))]
    middle = base.mark_line(color=FORECAST, point={"color": FORECAST}).encode(y="p50:Q", tooltip=tips)
    before = base.mark_line(color=LAST_YEAR, strokeDash=list(DASH)).encode(y="last_year:Q")
    labels = [
        alt.Chart(ends).mark_text(color=colour, align="left", dx=8).encode(x="week:T", y="y:Q", text=alt.value(text))
        for ends, colour, text in _ends(weeks)
    ]
    return alt.layer(wide, narrow, middle, before, *labels).properties(
        title=alt.Title(
            "What the season will ask for, week by week",
            subtitle="Bands hold 5 and 8 of 10 ways the season may go. Dashed: sold in the same weeks a year before.",
        ),
        width=WIDTH - 60,
        height=260,
        padding={"right": 90, "left": 5, "top": 5, "bottom": 5},
        description=description,
    )


def _mondays(weeks: pd.DataFrame) -> list[str]:
    """Return the Mondays drawn, all or every second, third ... so that their labels have room."""
    every = -(-len(weeks) // MOST_LABELS)
    return [f"{week:%Y-%m-%d}" for week in weeks["week"].iloc[::every]]


def _ends(weeks: pd.DataFrame) -> list[tuple[pd.DataFrame, str, str]]:
    """Return where the names of the two lines stand, in the last week: apart from each other and clear of the axis."""
    last, top = weeks.tail(1), float(weeks[["p90", "last_year"]].max(axis=None))
    ours, before = last["p50"].iloc[0], last["last_year"].iloc[0]
    if pd.isna(before):
        return [(last.assign(y=max(ours, CLEAR * top)), FORECAST, FORESEEN)]
    low, high = sorted([ours, before])
    low = max(low, CLEAR * top)
    high = max(high, low + CLEAR * top)
    first, second = (high, low) if ours >= before else (low, high)
    return [(last.assign(y=first), FORECAST, FORESEEN), (last.assign(y=second), LAST_YEAR_TEXT, "sold last year")]


def season_totals_chart(totals: pd.DataFrame, description: str) -> alt.LayerChart | alt.FacetChart:
    """Draw the season's total for each scent as a range, most wanted first (season_totals)."""
    order = list(totals["scent"])
    base = alt.Chart(totals).encode(
        y=alt.Y("scent:N", title=None, sort=order),
        tooltip=["scent:N", *(alt.Tooltip(f"{name}:Q", format=",.0f") for name in ("p05", "p10", "p50", "p90", "p95"))],
    )
    title = "bottles wanted in the season"
    thin = base.mark_rule(color=FORECAST, strokeWidth=2).encode(x=alt.X("p05:Q", title=title), x2="p95:Q")
    thick = base.mark_bar(color=FORECAST, opacity=0.45, size=12).encode(x=alt.X("p10:Q", title=title), x2="p90:Q")
    middle = base.mark_tick(color=LIMIT, thickness=3, size=16).encode(x=alt.X("p50:Q", title=title))
    return alt.layer(thin, thick, middle).properties(
        title=alt.Title("The season by scent", subtitle="Mark: middle. Bar: 8 of 10 ways it may go. Line: 9 of 10."),
        height=alt.Step(24),
        width=WIDTH,
        description=description,
    )


def past_check_chart(ranges: pd.DataFrame, description: str) -> alt.FacetChart:
    """Draw past forecasts as ranges and what then happened as points (origin, scent, bottles, p05 to p95, held)."""
    base = alt.Chart(ranges).encode(y=alt.Y("scent:N", title=None, sort=None))
    amount = "bottles, time on the shelf only"
    ends = (("p05", "p95", 2, 0.6), ("p10", "p90", 6, 0.4), ("p25", "p75", 11, 0.4))
    lines = [
        base.mark_rule(color=FORECAST, strokeWidth=width, opacity=opacity).encode(
            x=alt.X(f"{low}:Q", title=amount, axis=alt.Axis(tickCount=4, labelOverlap=True)), x2=f"{high}:Q"
        )
        for low, high, width, opacity in ends
    ]
    seen = alt.Scale(domain=[True, False], range=[LIMIT, SIGNAL])
    shapes = alt.Scale(domain=[True, False], range=["circle", "triangle-up"])
    points = base.mark_point(size=60).encode(
        x=alt.X("bottles:Q", title=amount),
        color=alt.Color("held:N", scale=seen, legend=None),
        shape=alt.Shape("held:N", scale=shapes, legend=None),
        tooltip=["scent:N", "bottles:Q", alt.Tooltip("p10:Q", format=".0f"), alt.Tooltip("p90:Q", format=".0f")],
    )
    title = alt.Title(
        "Would it have been right before?",
        subtitle=[
            "Bars foreseen at the time: thick holds 5, middle 8, thin line 9 of 10 ways it may go.",
            "Dot: what happened. Triangle: outside 8 of 10. First row: all scents together, divided by their number.",
        ],
    )
    panel = alt.layer(*lines, points).properties(width=220, height=alt.Step(20))
    return (
        panel.facet(facet=alt.Facet("season:N", title=None), columns=2)
        .resolve_scale(x="independent")
        .properties(title=title, description=description)
    )


def season_shape_chart(shape: pd.DataFrame, description: str) -> alt.LayerChart | alt.FacetChart:
    """Draw the year as the shop lives it: how many times a middling week each week sells (week, factor, what)."""
    base = alt.Chart(shape).encode(x=alt.X("week:T", title=None, axis=alt.Axis(format="%b", tickCount=12)))
    title = "times a middling week"
    band = base.mark_area(color=FORECAST, opacity=RANGE_OPACITY).encode(y=alt.Y("low:Q", title=title), y2="high:Q")
    line = base.mark_line(color=FORECAST).encode(
        y=alt.Y("factor:Q", title=title, scale=alt.Scale(domainMin=0, domainMax=ROOM * shape["high"].max())),
        tooltip=[WEEK_TIP, alt.Tooltip("factor:Q", format=".2f"), "what:N"],
    )
    named = base.transform_filter("isValid(datum.what) && datum.what != ''")
    points = named.mark_point(color=LIMIT).encode(y="factor:Q")
    labels = named.mark_text(align="left", angle=315, dx=8, dy=-4, color=LIMIT).encode(y="high:Q", text="what:N")
    return alt.layer(band, line, points, labels).properties(
        title=alt.Title(
            "The shape of the year", subtitle="All scents together. The band holds 8 of 10 shapes that fit the past."
        ),
        width=WIDTH,
        height=260,
        description=description,
    )
