"""How every chart looks, and how it gets into a notebook: one colour for one meaning, and no network."""

import os
from typing import Any

import altair as alt

from planner.pictures import LATER, V5, as_png, as_svg

# Colours by meaning, from the set of Okabe and Ito, which stays apart for the colour-blind. Colour never stands
# alone: a dash, a shape or a label says the same.
SOLD = "#0072B2"  # bottles that were sold
FORECAST = "#009E73"  # what is foreseen: middle line and range
ON_HAND = "#E69F00"  # bottles and materials there already
MAKE = "#CC79A7"  # what the plan makes
LAST_YEAR = "#56B4E9"  # the same weeks a year before
SIGNAL = "#D55E00"  # a point or day that wants looking at
LIMIT = "#4D4D4D"  # control limits and skin limits, always dashed
MUTED = "#767676"  # everything that is only there to compare; 4.5 to 1 on white
SERIES = (SOLD, SIGNAL, FORECAST, ON_HAND, LAST_YEAR, MAKE, "#000000")

RANGE_OPACITY = 0.25  # a range lies behind its line
DASH = (6, 4)
WIDTH = 560  # fits a laptop's page beside nothing else; pages shrink it for a phone [px]
HEIGHT = 280  # [px]
V5_SCHEMA = "https://vega.github.io/schema/vega-lite/v5.json"  # a label, never fetched


def enable() -> None:
    """Make altair draw in this look, here and in reopened notebooks. May be called again."""
    alt.renderers.register("planner", show)
    alt.renderers.enable("planner")
    alt.theme.register("planner", enable=True)(look)
    alt.data_transformers.disable_max_rows()  # what is drawn is already added up by week or scent


def show(spec: dict[str, Any], **_: object) -> dict[str, Any]:
    """Return a chart's notebook output: the live chart, a picture for other programs, and its description."""
    live = {**spec, "$schema": V5_SCHEMA}
    output = {V5: live, "text/plain": str(spec.get("description") or "A chart.")}
    if os.environ.get(LATER) != "0":
        output["image/png"] = as_png(as_svg(spec))
    return output


def look() -> alt.theme.ThemeConfig:
    """Return the settings of every chart: plain letters, quiet axes, room for long scent names."""
    letters: Any = {"labelFontSize": 12, "titleFontSize": 12, "labelColor": "#333333", "titleColor": "#333333"}
    axis: Any = {
        **letters,
        "titleFontWeight": "normal",
        "gridColor": "#E6E6E6",
        "domainColor": MUTED,
        "tickColor": MUTED,
    }
    return {
        "config": {
            "font": "sans-serif",
            "background": "#FFFFFF",
            "view": {"continuousWidth": WIDTH, "continuousHeight": HEIGHT, "stroke": None},
            "title": {
                "anchor": "start",
                "fontSize": 16,
                "fontWeight": 600,
                "subtitleFontSize": 12,
                "subtitleColor": "#4D4D4D",
                "offset": 12,
            },
            "axis": {**axis, "labelLimit": 240, "titlePadding": 8},
            "axisX": {"grid": False},
            "header": {**letters, "labelFontWeight": 600},
            "legend": {**letters, "orient": "top", "titleFontWeight": "normal", "labelLimit": 240},
            "range": {"category": list(SERIES)},
            "line": {"strokeWidth": 2, "color": SOLD},
            "point": {"size": 50, "filled": True, "color": SOLD},
            "bar": {"color": SOLD},
            "rect": {"color": SOLD},
            "area": {"color": FORECAST, "opacity": RANGE_OPACITY},
            "rule": {"color": LIMIT},
            "text": {"fontSize": 12, "color": "#333333"},
        }
    }
