"""The balance of a run, what keeps a run out, and what runs teach."""

import numpy as np
import pandas as pd
import pytest
from hypothesis import given
from hypothesis import settings as tries
from hypothesis import strategies as st

from planner.losses import FEWEST_RUNS, learn_minutes, learn_overage, run_losses
from planner.settings import Bench, Filling, Settings
from planner.tables import FILES, STEPS, empty

SHOP = Settings(name="Test", currency="EUR", filling=Filling(overage_pct=3, overage_g=5, short_pct=10), bench=Bench())


def table(name, rows):
    frame = pd.DataFrame(rows, index=range(len(rows)))
    typed = {column: empty(FILES[name])[column].dtype for column in FILES[name].columns}
    return frame.reindex(columns=list(typed)).astype(typed).assign(row=range(2, len(rows) + 2))


def run(lot="A", **change):
    row = {"lot": lot, "date": "2026-03-01", "scent": "Fig", "bottles_filled": 10, "bottles_rejected": 1, "retained": 1}
    return row | {"residue_g": 2.0, "minutes": 60.0} | change


def bottles(lot="A", weights=(9.4, 9.6), tare=20.0):
    return [{"lot": lot, "bottle": str(n), "gross_g": tare + w, "tare_g": tare} for n, w in enumerate(weights, 1)]


def grams(lot="A", total=100.0):
    return [
        {"lot": lot, "material": "oil", "grams": total * 0.2},
        {"lot": lot, "material": "mct", "grams": total * 0.8},
    ]


SCENTS = [
    {"scent": "Fig", "formula": "F", "label_ml": 10},
    {"scent": "Fig 5", "formula": "F", "label_ml": 5},
    {"scent": "Fig 30", "formula": "F", "label_ml": 30},
]


def balance(runs=None, weighed=None, fills=None, scents=SCENTS):
    """Balance runs of a blend of 0.94 g/ml at 0.05 a gram: 10 ml weigh 9.4 g."""
    names = [scent["scent"] for scent in scents]
    return run_losses(
        table("runs", [run()] if runs is None else runs),
        table("weighed", grams() if weighed is None else weighed),
        table("fills", bottles() if fills is None else fills),
        table("scents", scents),
        pd.DataFrame({"formula": ["F"], "density_g_per_ml": [0.94]}),
        pd.DataFrame({"scent": names, "oil_cost_per_g": [0.05] * len(names)}),
    )


# --- the balance ------------------------------------------------------------------------------------------------------


def test_balance_worked_by_hand():
    # mean fill 9.5 g × 10 bottles = 95 g; one rejected and one retained 9.5 g each; 8 for sale, each 0.1 g over 9.4 g;
    # 100 weighed − 95 filled − 2 in the jug = 3 unexplained; lost 9.5 + 2 + 3 = 14.5 of 100 g at 0.05
    row = balance().losses.iloc[0]
    assert row["weighed_g"] == 100
    assert row["filled_g"] == pytest.approx(95)
    assert row["rejected_g"] == row["retained_g"] == pytest.approx(9.5)
    assert row["giveaway_g"] == pytest.approx(0.8)
    assert row["residue_g"] == 2
    assert row["unexplained_g"] == pytest.approx(3)
    assert row["loss_share"] == pytest.approx(0.145)
    assert row["cost"] == pytest.approx(0.725)


@tries(max_examples=30, deadline=None)
@given(st.integers(1, 60), st.data(), st.floats(5, 15), st.floats(0, 20))
def test_nothing_weighed_is_lost_from_the_books(filled, data, fill, residue):
    rejected = data.draw(st.integers(0, filled))
    retained = data.draw(st.integers(0, filled - rejected))
    total = filled * fill + residue + 10
    one = run(bottles_filled=filled, bottles_rejected=rejected, retained=retained, residue_g=residue)
    row = balance([one], grams(total=total), bottles(weights=[fill])).losses.iloc[0]
    label_g = (filled - rejected - retained) * 9.4
    parts = row[["giveaway_g", "rejected_g", "retained_g", "residue_g", "unexplained_g"]].sum()
    assert label_g + parts == pytest.approx(row["weighed_g"])


def test_what_is_not_written_down_counts_as_nothing():
    made = balance([run(bottles_rejected=None, retained=None, residue_g=None)])
    row = made.losses.iloc[0]
    assert (row["rejected_g"], row["retained_g"], row["residue_g"]) == (0, 0, 0)
    assert row["unexplained_g"] == pytest.approx(5)


def test_net_weights_and_no_weights():
    net = [{"lot": "A", "bottle": "1", "net_g": 9.5}]
    assert balance(fills=net).losses["filled_g"].iloc[0] == pytest.approx(95)
    made = balance(fills=[])
    assert made.losses["filled_g"].iloc[0] == pytest.approx(94)
    assert made.losses["giveaway_g"].iloc[0] == pytest.approx(0)
    assert "no bottle of lot A was weighed" in made.problems[0].what
    assert not made.problems[0].stops


def test_one_mixing_in_two_sizes():
    # 10 × 9.5 g and 20 × 4.8 g; each bottle weighed goes with the size it is nearest to
    lines = [
        run(bottles_rejected=0, retained=0),
        run(scent="Fig 5", bottles_filled=20, bottles_rejected=0, retained=0, residue_g=None),
    ]
    made = balance(lines, grams(total=200), bottles(weights=[9.5, 4.8, 4.7, 4.9, 9.5]))
    row = made.losses.iloc[0]
    assert len(made.losses) == 1
    assert row["filled_g"] == pytest.approx(95 + 96)
    assert row["giveaway_g"] == pytest.approx(10 * 0.1 + 20 * 0.1)
    assert row["unexplained_g"] == pytest.approx(200 - 191 - 2)
    assert made.runs["scent"].tolist() == ["Fig; Fig 5"]
    assert made.runs["bottles_filled"].tolist() == [30]


def test_in_time_order_whatever_the_file_order():
    runs = [run("B", date="2026-03-02"), run("C", date="2026-02-01"), run("A", date="2026-03-02")]
    weighed = [line for lot in "ABC" for line in grams(lot)]
    made = balance(runs, weighed, [line for lot in "CAB" for line in bottles(lot)])
    assert made.losses["lot"].tolist() == made.runs["lot"].tolist() == ["C", "A", "B"]


# --- what keeps a run out ---------------------------------------------------------------------------------------------

FAULTS = {
    "no tare": ({"fills": [{"lot": "A", "bottle": "1", "gross_g": 29.4}]}, "fills.csv", 2, "has no tare"),
    "swapped": ({"fills": bottles(weights=[9.4, -9.4])}, "fills.csv", 3, "no more than its tare"),
    "no weight": ({"fills": [{"lot": "A", "bottle": "1"}]}, "fills.csv", 2, "has no weight"),
    "nothing weighed": ({"weighed": []}, "runs.csv", 2, "nothing was weighed for lot A"),
    "no grams": ({"weighed": [{"lot": "A", "material": "oil"}]}, "weighed.csv", 2, "no grams above 0"),
    "twice": ({"runs": [run(), run()]}, "runs.csv", 3, "lot A is there twice"),
    "two days": ({"runs": [run(), run(scent="Fig 5", date="2026-05-01")]}, "runs.csv", 3, "lot A is there twice"),
    "no bottles": ({"runs": [run(bottles_filled=0)]}, "runs.csv", 2, "no bottles filled"),
    "too many out": ({"runs": [run(bottles_rejected=6, retained=5)]}, "runs.csv", 2, "more bottles rejected"),
    "residue": ({"runs": [run(residue_g=-1)]}, "runs.csv", 2, "residue below 0"),
    "more out than in": ({"weighed": grams(total=90)}, "runs.csv", 2, "more oil came out of lot A"),
    "unknown fill": ({"runs": [run(scent="Pear")], "fills": []}, "runs.csv", 2, "is not known"),
}


@pytest.mark.parametrize("name", FAULTS)
def test_run_that_cannot_be_balanced_is_set_aside(name):
    change, file, row, words = FAULTS[name]
    change = {
        key: list(lines) for key, lines in ({"runs": [run()], "weighed": grams(), "fills": bottles()} | change).items()
    }
    # a sound run goes on beside it
    change["runs"].append(run("Z"))
    change["weighed"] += grams("Z")
    change["fills"] += bottles("Z")
    made = balance(**change)
    assert made.losses["lot"].tolist() == ["Z"]
    aside = made.set_aside.iloc[0]
    assert (aside["file"], aside["row"], aside["lot"]) == (file, row, "A")
    assert words in aside["reason"]
    stops = [problem for problem in made.problems if problem.stops]
    assert (stops[0].file, stops[0].row, stops[0].what) == (file, row, aside["reason"])


@pytest.mark.parametrize("name", ["fills", "weighed"])
def test_lot_without_a_run(name):
    lines = {"fills": bottles("Q"), "weighed": grams("Q")}[name]
    own = {"fills": bottles(), "weighed": grams()}[name]
    made = balance(**{name: own + lines})
    assert made.losses["lot"].tolist() == ["A"]
    assert made.set_aside["row"].tolist() == [4, 5]
    assert "lot Q is not in runs.csv" in made.set_aside["reason"].iloc[0]


def test_sampling_is_not_an_error_of_record():
    # 97 g out of 95.5 g in: two of ten bottles were weighed, 0.2 g apart; the sum has a standard error of 0.9 g
    made = balance([run(residue_g=2)], grams(total=95.5))
    assert made.losses["unexplained_g"].iloc[0] == pytest.approx(-1.5)


def test_no_runs_at_all():
    made = balance([], [], [])
    assert made.losses.columns.tolist() == list(STEPS["losses"].columns)
    assert made.losses.empty
    assert made.problems == []
    assert learn_overage(made.losses, SHOP)["fixed_g"].tolist() == [5]
    assert learn_minutes(table("runs", []), SHOP)["setup_minutes"].tolist() == [30]


# --- what runs teach --------------------------------------------------------------------------------------------------


def shop_of(label_g, lost, giveaway=0.0):
    """Loss rows with so many grams lost beyond the label quantity of all bottles."""
    label_g, lost = np.asarray(label_g, float), np.asarray(lost, float)
    filled = label_g * (1 + giveaway)
    return pd.DataFrame(
        {
            "weighed_g": label_g + lost,
            "filled_g": filled,
            "giveaway_g": filled - label_g,
            "rejected_g": 0.0,
            "retained_g": 0.0,
        }
    )


def test_overage_is_the_setting_until_there_are_runs():
    row = learn_overage(shop_of([100] * (FEWEST_RUNS - 1), [50] * (FEWEST_RUNS - 1)), SHOP).iloc[0]
    assert (row["fixed_g"], row["share"], row["runs"]) == (5, 0.03, 7)
    assert row["known"] == "setting, until there are 8 runs"


def test_overage_learned_exactly_in_spite_of_spills():
    # 4 g whatever the size and 5 % of the label grams, 0.05/1.05 of what is weighed beyond the 4 g; two spills of 80 g
    label_g = np.array([100, 150, 200, 250, 300, 350, 400, 450, 500, 550.0])
    lost = 4 + 0.05 * label_g
    lost[[2, 7]] += 80
    row = learn_overage(shop_of(label_g, lost, giveaway=0.02), SHOP).iloc[0]
    assert row["share"] == pytest.approx(0.05 / 1.05)
    assert row["fixed_g"] == pytest.approx(4)
    assert row["known"] == "learned from 10 runs"
    # and it is what the batch needed
    assert 300 / (1 - row["share"]) + row["fixed_g"] == pytest.approx(300 + 4 + 15)


def test_one_batch_size_only_keeps_the_share_of_the_settings():
    row = learn_overage(shop_of([300] * 9, [20] * 9), SHOP).iloc[0]
    assert row["share"] == pytest.approx(0.03)
    assert 300 / 0.97 + row["fixed_g"] == pytest.approx(320)


def test_promised_chance_of_running_short_is_kept():
    # 300 shops of 30 runs with fixed and proportional loss; the next batch may run short in 10 of 100
    rng = np.random.default_rng(8)
    short = []
    for _ in range(300):
        label_g = rng.uniform(100, 500, 31)
        lost = 4 + 0.04 * label_g + rng.normal(0, 2, 31)
        row = learn_overage(shop_of(label_g[:30], lost[:30]), SHOP).iloc[0]
        short.append(label_g[30] / (1 - row["share"]) + row["fixed_g"] < label_g[30] + lost[30])
    assert 0.06 < np.mean(short) < 0.14


def test_minutes_learned_exactly():
    # 25 minutes and 2.5 a bottle; one run was interrupted for two hours
    sizes = np.array([10, 15, 20, 25, 30, 40, 50, 60])
    runs = [run(f"L{n}", bottles_filled=n, minutes=25 + 2.5 * n + (120 if n == 25 else 0)) for n in sizes]
    row = learn_minutes(table("runs", [*runs, run("none", minutes=None)]), SHOP).iloc[0]
    assert (row["setup_minutes"], row["minutes_per_bottle"]) == pytest.approx((25, 2.5))
    assert row["known"] == "learned from 8 runs"


def test_minutes_are_the_setting_until_there_are_runs():
    row = learn_minutes(table("runs", [run()]), SHOP).iloc[0]
    assert (row["setup_minutes"], row["minutes_per_bottle"], row["runs"]) == (30, 3, 1)


def test_setup_is_never_below_nothing():
    # 3 minutes a bottle, less 10 for whatever reason: a straight line would start below 0
    runs = [run(f"L{n}", bottles_filled=n, minutes=3 * n - 10) for n in (10, 15, 20, 25, 30, 40, 50, 60)]
    row = learn_minutes(table("runs", runs), SHOP).iloc[0]
    assert row["setup_minutes"] == 0
    assert 2 < row["minutes_per_bottle"] < 3


def test_minutes_of_a_lot_in_two_sizes_add_up():
    sizes = [10, 15, 20, 25, 30, 40, 50, 60]
    runs = [run(f"L{n}", bottles_filled=n, minutes=25 + 2 * n) for n in sizes]
    runs += [run(f"L{n}", scent="Fig 5", bottles_filled=n, minutes=2 * n) for n in sizes]
    row = learn_minutes(table("runs", runs), SHOP).iloc[0]
    assert (row["setup_minutes"], row["minutes_per_bottle"]) == pytest.approx((25, 2))


def test_slope_is_that_of_a_general_library():
    # scipy.stats.theilslopes, an independent implementation
    from scipy.stats import theilslopes

    rng = np.random.default_rng(3)
    sizes = rng.integers(10, 60, 25)
    minutes = 20 + 3 * sizes + rng.normal(0, 8, 25)
    runs = [run(f"L{n}", bottles_filled=int(b), minutes=m) for n, (b, m) in enumerate(zip(sizes, minutes, strict=True))]
    row = learn_minutes(table("runs", runs), SHOP).iloc[0]
    assert row["minutes_per_bottle"] == pytest.approx(theilslopes(minutes, sizes).slope)
