"""Every chart is judged by its specification: titles, units, a description, and that an old Vega-Lite draws it too."""

import numpy as np
import pandas as pd
import pytest
import vl_convert

from planner import charts

WEEKS = pd.date_range("2026-10-05", periods=4, freq="7D")
QUANTILES = {"p05": 1.0, "p10": 2.0, "p25": 3.0, "p50": 4.0, "p75": 5.0, "p90": 6.0, "p95": 7.0, "mean": 4.0}
TOTALS = pd.DataFrame({"scent": ["Fig", "Oud"], **QUANTILES})
RUNS = pd.DataFrame(
    {
        "lot": ["L1", "L2", "L3"],
        "date": WEEKS[:3],
        "loss_share": [0.03, 0.04, 0.2],
        "centre": 0.04,
        "lower": 0.0,
        "upper": 0.08,
        "signal": ["", "", "beyond the upper limit"],
        "trial": True,
    }
)
DRAWN = {
    "weekly_sales": charts.weekly_sales_chart(
        pd.DataFrame({"week": WEEKS, "channel": "web", "bottles": 3, "gap": False, "cut_off": False}), "said"
    ),
    "line_flow": charts.line_flow_chart(
        pd.DataFrame(
            {
                "step": 0,
                "name": ["a.csv"],
                "became": "read",
                "lines": 9,
                "low": 0.0,
                "high": 1.0,
                "words": "",
                "above": "",
            }
        ),
        pd.DataFrame({"x": [0.0, 1.0], "low": 0.0, "high": 1.0, "became": "counted", "ribbon": 0}),
        "said",
    ),
    "pace": charts.pace_chart(
        pd.DataFrame(
            {
                "scent": ["Fig"],
                "place": ["1–2"],
                "pace": [5.0],
                "pace_low": [4.0],
                "pace_high": [6.0],
                "chance_fastest": [1.0],
            }
        ),
        "said",
    ),
    "scent_weeks": charts.scent_weeks_chart(
        pd.DataFrame(
            {
                "week": WEEKS,
                "scent": "Fig",
                "bottles": [1, 2, np.nan, 3],
                "shelf_days": 7.0,
                "sold_out": [False, False, True, False],
                "off_shelf": [0.0, 0.3, 1.0, 0.0],
            }
        ),
        ["Fig"],
        "said",
    ),
    "launch": charts.launch_chart(
        pd.DataFrame(
            {
                "scent": "Fig",
                "first_week": [1, 5],
                "last_week": [4, 8],
                "middle_week": [2.5, 6.5],
                "bottles": [9.0, 5.0],
                "ratio": [1.8, 1.0],
                "ratio_low": [1.0, 0.5],
                "ratio_high": [2.8, 1.9],
            }
        ),
        "said",
    ),
    "season_weeks": charts.season_weeks_chart(pd.DataFrame({"week": WEEKS, **QUANTILES, "last_year": 4.0}), "said"),
    "season_totals": charts.season_totals_chart(TOTALS, "said"),
    "past_check": charts.past_check_chart(
        TOTALS.assign(season="foreseen on 1 Oct 2025", bottles=[4.0, 9.0], held=[True, False]), "said"
    ),
    "season_shape": charts.season_shape_chart(
        pd.DataFrame({"week": WEEKS, "factor": [1, 2, 3, 1], "low": 0.5, "high": 4, "what": ["", "", "Christmas", ""]}),
        "said",
    ),
    "departures": charts.departures_chart(
        pd.DataFrame({"scent": ["Fig"], "what": ["Christmas"], "factor": [1.2], "low": [0.9], "high": [1.6]}), "said"
    ),
    "shop_level": charts.shop_level_chart(
        pd.DataFrame({"week": WEEKS, "factor": [0.8, 0.9, 1.1, 1.0], "low": 0.7, "high": 1.2}), "said"
    ),
    "unsold": charts.unsold_chart(
        pd.DataFrame({"week": WEEKS[[0, 0]], "part": ["sold", "wanted and not there"], "bottles": [5.0, 1.5]}), "said"
    ),
    "changes": charts.changes_chart(
        pd.DataFrame({"what": ["a weak Christmas"], "change": [-40.0], "most_affected": ["Fig −20"]}), "said"
    ),
    "plan": charts.plan_chart(
        pd.DataFrame(
            {"scent": ["Fig", "Fig"], "part": ["on hand", "to make"], "first": [0.0, 5.0], "last": [5.0, 28.0]}
        ),
        TOTALS,
        "said",
    ),
    "bench": charts.bench_chart(
        pd.DataFrame(
            {
                "batch": ["B1"],
                "scent": ["Fig"],
                "mix_on": WEEKS[:1],
                "minutes": [90.0],
                "bottles": [24],
                "vessel": ["jug"],
            }
        ),
        "said",
    ),
    "load": charts.load_chart(pd.DataFrame({"scent": ["Fig"], "load_pct": [15.0], "limit_pct": [20.0]}), "said"),
    "unknown_names": charts.unknown_names_chart(pd.DataFrame({"item": ["Fgi"], "lines": [3], "bottles": [4]}), "said"),
    "loss_control": charts.loss_control_chart(RUNS, "said"),
    "oil_parts": charts.oil_parts_chart(
        pd.DataFrame({"lot": ["L1"], "part": ["unexplained"], "order": [5], "grams": [3.0], "share": [0.1]}), "said"
    ),
    "loss_causes": charts.loss_causes_chart(
        pd.DataFrame({"cause": ["unexplained"], "grams": [3.0], "share": [0.1]}), "said"
    ),
}


def test_every_public_chart_is_judged_here():
    assert {f"{name}_chart" for name in DRAWN} == set(charts.__all__)


@pytest.mark.parametrize("name", DRAWN)
def test_a_chart_has_a_title_a_description_and_titled_axes(name):
    spec = DRAWN[name].to_dict()
    assert spec["title"]
    assert spec["description"] == "said"
    measured = {channel for channel, axis in find_axes(spec) if axis.get("type") == "quantitative"}
    titled = {channel for channel, axis in find_axes(spec) if axis.get("title")}
    assert measured
    said_elsewhere = {"scent_weeks": {"y"}, "line_flow": {"x", "y"}}  # in the title, and in the words of a flow
    assert measured - titled <= said_elsewhere.get(name, set())


def find_axes(node):
    if isinstance(node, dict):
        for key, value in node.items():
            if key in ("x", "y") and isinstance(value, dict):
                yield key, value
            else:
                yield from find_axes(value)
    elif isinstance(node, list):
        for item in node:
            yield from find_axes(item)


@pytest.mark.parametrize("name", DRAWN)
@pytest.mark.parametrize("version", ["5.8", "6.4"])  # Lab draws 5, pages draw 6
def test_a_chart_is_drawn_by_old_and_new_vega_lite(name, version):
    svg = vl_convert.vegalite_to_svg(DRAWN[name].to_dict(), vl_version=version)
    assert svg.count("<path") + svg.count("<rect") > 3


def test_trial_limits_and_signals_are_said_and_not_only_coloured():
    spec = DRAWN["loss_control"].to_dict()
    assert "trial ones, from few runs" in spec["title"]["subtitle"]
    assert "triangle-up" in str(spec)


def test_a_chart_of_nothing_is_still_a_chart():
    charts.pace_chart(
        DRAWN["pace"].layer[0].data.iloc[:0] if False else pd.DataFrame(columns=["scent"]), "none"
    ).to_dict()
    charts.loss_control_chart(RUNS.iloc[:0], "none").to_dict()


def test_every_week_known_has_a_dot_and_what_is_inferred_a_dashed_edge():
    weeks = pd.DataFrame({"week": pd.date_range("2025-11-03", periods=5, freq="7D"), "scent": "Fig"})
    weeks = weeks.assign(
        bottles=[None, 3.0, None, 4.0, 2.0],  # the 3 stands between two weeks that are not known
        shelf_days=7.0,
        known="assumed",
        sold_out=False,
        off_shelf=[1.0, 0.0, 1.0, 0.0, 0.0],
        guessed=[True, False, False, False, False],
        not_over=[False, False, False, False, True],
    )
    svg = vl_convert.vegalite_to_svg(charts.scent_weeks_chart(weeks, ["Fig"], "said").to_dict(), vl_version="6.4")
    dots = [mark for mark in svg.split("<path") if 'aria-roledescription="point"' in mark]
    assert len(dots) == 3
    assert sum('fill="white"' in dot for dot in dots) == 1
    bands = [mark for mark in svg.split("<path") if 'aria-roledescription="rect mark"' in mark]
    assert sorted('stroke-opacity="0.8"' in band for band in bands) == [False, True]
    assert sorted('fill-opacity="0.25"' in band for band in bands) == [False, True]
