"""Pictures of what to make, and of what is weighed."""

import altair as alt
import pandas as pd

from planner.charts.theme import LIMIT, MAKE, ON_HAND, SIGNAL, SOLD, WIDTH

PARTS = {"on hand": ON_HAND, "to make": MAKE}


def plan_chart(stock: pd.DataFrame, totals: pd.DataFrame, description: str) -> alt.LayerChart | alt.FacetChart:
    """Draw bottles on hand and each batch to make, end to end, over the range of demand (stock_and_batches)."""
    order = list(totals["scent"])
    y = alt.Y("scent:N", title=None, sort=order)
    title = "bottles in the season"
    bars = (
        alt.Chart(stock)
        .mark_bar(size=16, stroke="white", strokeWidth=2)
        .encode(
            y=y,
            x=alt.X("first:Q", title=title),
            x2="last:Q",
            color=alt.Color("part:N", title=None, scale=alt.Scale(domain=list(PARTS), range=list(PARTS.values()))),
            tooltip=["scent:N", "part:N", alt.Tooltip("last:Q", title="bottles up to here", format=".0f")],
        )
    )
    base = alt.Chart(totals).encode(y=y)
    line = base.mark_rule(color=LIMIT, strokeWidth=2).encode(x=alt.X("p10:Q", title=title), x2="p90:Q")
    middle = base.mark_point(color=LIMIT, size=60, shape="diamond").encode(
        x=alt.X("p50:Q", title=title),
        tooltip=["scent:N", *(alt.Tooltip(f"{name}:Q", format=".0f") for name in ("p10", "p50", "p90"))],
    )
    return alt.layer(bars, line, middle).properties(
        title=alt.Title(
            "What there will be, and what will be wanted",
            subtitle="Bars: on hand, then one block a batch. Line: 8 of 10 ways demand may go. Diamond: middle.",
        ),
        height=alt.Step(26),
        width=WIDTH,
        description=description,
    )


def bench_chart(bench: pd.DataFrame, description: str) -> alt.LayerChart | alt.FacetChart:
    """Draw the bench days: minutes of each batch stacked on its day, with the scent's name."""
    base = alt.Chart(bench).encode(
        y=alt.Y("yearmonthdate(mix_on):O", title=None, axis=alt.Axis(format="%a %d %b")),
        x=alt.X("minutes:Q", title="minutes at the bench", stack="zero"),
        order=alt.Order("batch:N"),
        tooltip=["batch:N", "scent:N", "bottles:Q", alt.Tooltip("minutes:Q", format=".0f"), "vessel:N"],
    )
    bars = base.mark_bar(color=MAKE, stroke="white", strokeWidth=2)
    names = base.mark_text(align="right", dx=-6, color="#1A1A1A", fontSize=11, limit=150).encode(text="scent:N")
    return alt.layer(bars, names).properties(
        title="What to make on which day", height=alt.Step(26), width=WIDTH, description=description
    )


def load_chart(batches: pd.DataFrame, description: str) -> alt.LayerChart | alt.FacetChart:
    """Draw each batch's fragrance load against the highest load its certificates allow (load_pct, limit_pct)."""
    base = alt.Chart(batches).encode(y=alt.Y("scent:N", title=None))
    title = "fragrance, percent by weight of the finished oil"
    bars = base.mark_bar(color=SOLD, size=14).encode(
        x=alt.X("load_pct:Q", title=title),
        tooltip=["scent:N", alt.Tooltip("load_pct:Q", format=".2f"), alt.Tooltip("limit_pct:Q", format=".2f")],
    )
    limits = base.mark_tick(color=SIGNAL, thickness=3, size=20).encode(x=alt.X("limit_pct:Q", title=title))
    return alt.layer(bars, limits).properties(
        title=alt.Title(
            "Fragrance load against the skin limit", subtitle="Bar: load. Mark: highest load the papers allow."
        ),
        height=alt.Step(24),
        width=WIDTH,
        description=description,
    )
