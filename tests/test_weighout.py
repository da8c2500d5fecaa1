"""Grams for a batch: right, weighable, and never above a limit."""

import math
from fractions import Fraction

import pandas as pd
import pytest
from hypothesis import assume, given
from hypothesis import settings as tries
from hypothesis import strategies as st

from planner.settings import Filling, Scale, Settings, Vessel
from planner.tables import FILES, STEPS, empty
from planner.weighout import highest_load, skin_check, weigh_out
from planner.weighout.scales import SMALLEST_DIVISIONS, best_scale, find_vessel, smallest_weighing, tolerance, weighing

TODAY = pd.Timestamp("2026-10-01")
FINE, COARSE = Scale("fine", 0.01, 500), Scale("kitchen", 1, 5000)
SHOP = Settings(
    name="Test",
    currency="EUR",
    scales=(FINE, COARSE),
    vessels=(Vessel("jug", 1000), Vessel("beaker", 400)),
    filling=Filling(headspace_pct=5, vessel_full_pct=80),
)


def table(contract, rows):
    frame = pd.DataFrame(rows, index=range(len(rows)))
    typed = {column: empty(contract)[column].dtype for column in contract.columns}
    return frame.reindex(columns=list(typed)).astype(typed).assign(row=range(2, len(rows) + 2))


def sheet(
    bottles=30,
    pct=20.0,
    limit=20.0,
    second=None,
    certificates=(("rose", "2025-01-01", "IFRA 51"),),
    overrides=(),
    settings=SHOP,
    fixed=5.0,
    share=0.03,
    scent=None,
    **bottle,
):
    """Weigh out one batch of a rose oil in a carrier; `second` is (percent, limit) of a second fragrance oil, oud."""
    oils = [{"material": "rose", "kind": "fragrance oil", "density_g_per_ml": 1.05, "skin_limit_pct": limit}]
    formula = [{"formula": "F", "material": "rose", "weight_pct": pct}]
    if second:
        oils.append({"material": "oud", "kind": "fragrance oil", "density_g_per_ml": 1.0, "skin_limit_pct": second[1]})
        formula.append({"formula": "F", "material": "oud", "weight_pct": second[0]})
    carrier = float(100 - sum(Fraction(str(line["weight_pct"])) for line in formula))
    formula.append({"formula": "F", "material": "mct", "weight_pct": carrier})
    density = 1 / sum(
        line["weight_pct"] / 100 / {"rose": 1.05, "oud": 1.0, "mct": 0.945}[line["material"]] for line in formula
    )
    bottle = {"brimful_ml": 11.0, "displaced_ml": 0.4} | bottle
    materials = [
        *oils,
        {"material": "mct", "kind": "carrier oil", "density_g_per_ml": 0.945},
        {"material": "roller", "kind": "bottle", "brimful_ml": bottle["brimful_ml"]},
    ]
    scent = {"scent": "Fig", "formula": "F", "bottle": "roller", "label_ml": 10.0} | (scent or {})
    lots = [
        {"material": m, "material_lot": f"L{n}", "certificate": "paper", "certificate_date": d, "certificate_basis": b}
        for n, (m, d, b) in enumerate(certificates)
    ]
    return weigh_out(
        table(STEPS["bench"], [{"batch": "B1", "scent": "Fig", "bottles": bottles}]),
        table(FILES["scents"], [scent]),
        table(FILES["formulas"], formula),
        pd.DataFrame({"formula": ["F"], "density_g_per_ml": [density]}),
        table(FILES["materials"], materials),
        table(FILES["packing"], [{"what": "Fig", "material": "ball", "displaced_ml": bottle["displaced_ml"]}]),
        table(FILES["material_lots"], lots),
        table(FILES["overrides"], list(overrides)),
        pd.DataFrame({"fixed_g": [fixed], "share": [share], "runs": [0], "known": ["setting"]}),
        settings,
        TODAY,
    )


# --- amounts ----------------------------------------------------------------------------------------------------------


def test_grams_worked_by_hand():
    # density of 20 % by weight of a 1.05 oil in 0.945: 0.964286 [computed], so 10 ml weigh 9.64286 g;
    # 30 × 9.64286 ÷ 0.97 + 5 = 303.2327 g; rose 20 % = 60.6465 down to 60.64; carrier 242.5862 up to 242.59.
    # Were the scale's last digits wrong each way (60.645 of 303.23) the load is 19.99967: below the limit of 20.
    made = sheet()
    assert made.refused.empty
    assert made.weigh_out["material"].tolist() == ["rose", "mct"]
    assert made.weigh_out["grams"].tolist() == [60.64, 242.59]
    assert made.weigh_out["scale"].tolist() == ["fine", "fine"]
    # 1 % of the amount in whole divisions: rose may be 0.60 less, carrier 2.42 more
    assert made.weigh_out["tolerance_g"].tolist() == [-0.60, 2.42]
    batch = made.batches.iloc[0]
    assert batch["fill_g"] == pytest.approx(9.642857, abs=1e-6)
    assert batch["oil_g"] == pytest.approx(303.23)
    assert batch["oil_ml"] == pytest.approx(303.23 / 0.9642857)
    assert batch["headspace_pct"] == pytest.approx(100 * (1 - 10.4 / 11))
    assert (batch["limit_pct"], batch["binds"], batch["vessel"]) == (20.0, "rose", "beaker")


@tries(max_examples=40, deadline=None)
@given(st.integers(4, 60), st.floats(5, 40), st.floats(0, 0.15), st.floats(0, 20))
def test_grams_sum_to_the_batch(bottles, pct, share, fixed):
    made = sheet(bottles=bottles, pct=round(pct, 1), limit=60, share=share, fixed=fixed)
    need = bottles * made.batches["fill_g"].iloc[0] / (1 - share) + fixed
    divisions = made.weigh_out["scale"].map({"fine": 0.01, "kitchen": 1.0})
    assert made.weigh_out["grams"].sum() == pytest.approx(need, abs=divisions.sum())
    assert made.batches["oil_g"].iloc[0] == pytest.approx(made.weigh_out["grams"].sum())
    # every amount is a whole number of divisions
    steps = made.weigh_out["grams"] / divisions
    assert ((steps - steps.round()).abs() < 1e-6).all()


@tries(max_examples=40, deadline=None)
@given(st.integers(4, 40), st.floats(0, 0.15), st.floats(0, 20))
def test_twice_the_bottles_is_twice_the_part_that_scales(bottles, share, fixed):
    tiny = Settings(name="Test", currency="EUR", scales=(Scale("ideal", 1e-6, 1e5),))
    once, twice = (
        sheet(bottles=n, share=share, fixed=fixed, settings=tiny).batches["oil_g"].iloc[0]
        for n in (bottles, 2 * bottles)
    )
    assert twice - fixed == pytest.approx(2 * (once - fixed), abs=1e-4)


@tries(max_examples=40, deadline=None)
@given(
    st.integers(4, 60),
    st.decimals("5", "40", places=2),
    st.decimals("0", "10", places=2),
    st.sampled_from([(0.01, 0.01), (0.01, 0.1), (0.1, 0.1), (0.01, 1.0), (0.1, 1.0)]),
)
def test_no_allowed_weighing_goes_above_the_limit(bottles, pct, more, divisions):
    # fragrance at the most its sheet allows and half a division more; carrier at the least and half a division less
    scales = (Scale("a", divisions[0], 100), Scale("b", divisions[1], 5000))
    settings = Settings(name="Test", currency="EUR", scales=scales)
    made = sheet(bottles=bottles, pct=float(pct), limit=float(pct + more), settings=settings)
    assume(len(made.batches) == 1)
    rows = made.weigh_out.set_index("material")
    half = rows["scale"].map({"a": divisions[0], "b": divisions[1]}) / 2
    highest = rows.at["rose", "grams"] + max(rows.at["rose", "tolerance_g"], 0) + half["rose"]
    lowest = rows.at["mct", "grams"] + min(rows.at["mct", "tolerance_g"], 0) - half["mct"]
    assert 100 * highest / (highest + lowest) <= float(pct + more) + 1e-9
    assert made.batches["load_pct"].iloc[0] <= float(pct) + 1e-9


# --- scales and vessels -----------------------------------------------------------------------------------------------


def test_smallest_weighing_published():
    # USP <41> (2019) [read-2nd]: s no less than 0.41 d and 2 s ÷ amount ≤ 0.10 % give 820 d; at 1 % 82 d [computed]
    assert SMALLEST_DIVISIONS == 82
    for division, smallest in ((0.001, 0.082), (0.01, 0.82), (0.1, 8.2), (1, 82)):  # table [computed]
        assert float(smallest_weighing(Scale("s", division, 1000))) == pytest.approx(smallest, rel=1e-12)


@pytest.mark.parametrize(
    ("need", "found"),
    [("0.82", ("fine", 1)), ("500", ("fine", 1)), ("500.01", ("kitchen", 1)), ("9000", ("kitchen", 2)), ("0.81", None)],
)
def test_best_scale(need, found):
    best = best_scale(Fraction(need), (COARSE, FINE))
    assert (best and (best[0].name, best[1])) == found


def test_scale_between_two_leaves_a_gap():
    # 60 g is beyond the fine scale's 50 g and below the kitchen scale's 82 g
    assert weighing(Fraction(60), (Scale("fine", 0.01, 50), COARSE), up=True) is None


def test_tolerance_is_one_division_at_least():
    small = weighing(Fraction("0.82"), (FINE,), up=True)
    assert (float(small.grams), float(tolerance(small))) == (0.82, 0.01)


def test_too_little_to_weigh_is_refused():
    made = sheet(
        bottles=2, pct=1, limit=50, settings=Settings(name="T", currency="EUR", scales=(Scale("s", 0.1, 500),))
    )
    assert made.weigh_out.empty
    assert "rose is less than a scale weighs to 1 %" in made.refused["reason"].iloc[0]


def test_no_scale_named_is_said():
    made = sheet(settings=Settings(name="Test", currency="EUR"))
    assert made.weigh_out["grams"].tolist() == [60.64, 242.59]
    assert made.weigh_out["scale"].isna().all()
    assert [problem.file for problem in made.problems] == ["shop.toml"]


@pytest.mark.parametrize(
    ("oil_ml", "named", "vessel", "said"),
    [
        (320.0, "", "beaker", ""),  # 80 % of 400
        (320.1, "", "jug", ""),
        (100.0, "jug", "jug", ""),
        (500.0, "beaker", "jug", "500 ml is more than beaker holds at 80 % full; mix in jug."),
        (1700.0, "jug", "jug", "1700 ml is more than jug holds at 80 % full; mix in 3 equal parts."),
    ],
)
def test_vessel(oil_ml, named, vessel, said):
    assert find_vessel(oil_ml, named, SHOP.vessels, 80) == (vessel, said)


def test_more_than_a_scale_carries_is_weighed_in_parts():
    made = sheet(bottles=60, settings=Settings(name="T", currency="EUR", scales=(Scale("small", 0.01, 200),)))
    assert made.weigh_out["grams"].tolist()[1] > 200
    assert any("weigh mct in 3 parts" in problem.what for problem in made.problems)


def test_no_batches_and_no_files():
    none = {name: table(FILES[name], []) for name in FILES}
    mix = pd.DataFrame({"formula": pd.Series(dtype="str"), "density_g_per_ml": pd.Series(dtype=float)})
    over = pd.DataFrame({"fixed_g": [5.0], "share": [0.03], "runs": [0], "known": ["setting"]})
    makers = [none[name] for name in ("materials", "packing", "material_lots", "overrides")]
    for bench in ([], [{"batch": "B1", "scent": "Fig", "bottles": 10}]):
        made = weigh_out(
            table(STEPS["bench"], bench), none["scents"], none["formulas"], mix, *makers, over, SHOP, TODAY
        )
        assert made.weigh_out.columns.tolist() == list(STEPS["weigh-out"].columns)
        assert len(made.refused) == len(bench)


def test_split_is_told_and_not_refused():
    made = sheet(bottles=200)
    assert made.refused.empty
    assert any("equal parts" in problem.what for problem in made.problems)


# --- skin -------------------------------------------------------------------------------------------------------------


def test_load_equal_to_the_limit_passes_and_a_hundredth_above_fails():
    assert sheet(pct=20.0, limit=20.0).refused.empty
    above = sheet(pct=20.01, limit=20.0)
    assert above.weigh_out.empty
    assert above.refused["reason"].tolist() == ["Its fragrance load of 20.01 % is above the 20 % of rose."]


def test_sums_are_decimal():
    # 0.1 of a limit of 0.3 and 0.2 of 0.3 is exactly 1 on paper, and above 1 in binary arithmetic
    assert 0.1 + 0.2 > 0.3
    parts = [{"material": m, "weight_pct": w, "skin_limit_pct": 0.3} for m, w in (("a", 0.1), ("b", 0.2))]
    load, limit, binds = highest_load(parts)
    assert load == limit == Fraction(3, 10)
    assert binds == "b"


def test_limits_of_several_oils_are_not_taken_one_by_one():
    papers = (("rose", "2025-01-01", "51"), ("oud", "2025-01-01", "IFRA 49"))
    # 10 of 20 % and 15 of 30 %: exactly 1; 15.01 of 30 is too much although each is far below its own limit
    assert sheet(pct=10.0, limit=20.0, second=(15.0, 30.0), certificates=papers).refused.empty
    made = sheet(pct=10.0, limit=20.0, second=(15.01, 30.0), certificates=papers)
    assert "allow together" in made.refused["reason"].iloc[0]
    # IFRA Standards, phototoxic materials [read-2nd]: concentration ÷ own limit in %, summed, must not exceed 100


def test_highest_load_published():
    # IFRA category 4 limit of citral 0.60 % [read-2nd]: an oil with 4 % citral goes up to 0.60 ÷ 0.04 = 15 % [computed]
    oil = {"material": "lemon", "weight_pct": 10.0, "skin_limit_pct": 0.60 / 0.04}
    assert float(highest_load([oil])[1]) == pytest.approx(15)
    # oil A (2 % citral, limit 30 %) at 15 % and B (5 % citral, limit 12 %) at 5 %: 0.55 of 0.60 % citral [computed]
    both = [{"material": m, "weight_pct": w, "skin_limit_pct": x} for m, w, x in (("A", 15, 30), ("B", 5, 12))]
    load, limit, _ = highest_load(both)
    assert float(load / limit) == pytest.approx(0.55 / 0.60)


def test_unknown_limit_is_never_overridden():
    override = {"date": "2026-09-01", "what": "rose", "why": "trust me"}
    made = sheet(limit=None, overrides=[override])
    assert made.weigh_out.empty
    assert "limit of rose is not known" in made.refused["reason"].iloc[0]
    assert not sheet(pct=25.0, overrides=[override]).refused.empty
    assert "may not be used" in sheet(limit=0.0).refused["reason"].iloc[0]


@pytest.mark.parametrize("what", ["Fig", "f", " rose "])
def test_missing_paper_needs_an_override(what):
    assert "no certificate of rose" in sheet(certificates=()).refused["reason"].iloc[0]
    made = sheet(certificates=(), overrides=[{"date": "2026-09-01", "what": what, "why": "ordered from supplier"}])
    assert made.refused.empty
    assert len(made.weigh_out) == 2
    assert (made.problems[0].file, made.problems[0].row) == ("overrides.csv", 2)
    assert "ordered from supplier" in made.problems[0].what


def test_limits_hold_for_what_is_no_fragrance_oil():
    oils = [
        {"material": "tea tree", "kind": "additive", "weight_pct": 6.0, "skin_limit_pct": 5.0},
        {"material": "vitamin", "kind": "additive", "weight_pct": 1.0, "skin_limit_pct": None},
        {"material": "mct", "kind": "carrier oil", "weight_pct": 93.0, "skin_limit_pct": None},
    ]
    papers, overrides = table(FILES["material_lots"], []), table(FILES["overrides"], [])
    found = skin_check("Fig", "F", oils, papers, overrides, TODAY)
    assert found.reasons[0] == "Its fragrance load of 6 % is above the 5 % of tea tree."
    assert "no certificate of tea tree" in found.reasons[1]
    assert len(found.reasons) == 2


def test_override_for_another_oil_or_of_a_later_day_does_not_count():
    for override in (("oud", "2026-09-01"), ("rose", "2026-10-02")):
        made = sheet(certificates=(), overrides=[{"date": override[1], "what": override[0], "why": "x"}])
        assert len(made.refused) == 1


def test_editions_of_the_standard_are_not_mixed():
    # categories were numbered anew with the 49th Amendment [read-2nd]
    mixed = (("rose", "2025-01-01", "IFRA 51"), ("oud", "2019-01-01", "IFRA 48"))
    refused = sheet(pct=5.0, second=(5.0, 20.0), certificates=mixed).refused["reason"]
    assert "different editions" in refused.iloc[0]
    renewed = (*mixed, ("oud", "2024-01-01", "49th Amendment"))
    assert sheet(pct=5.0, second=(5.0, 20.0), certificates=renewed).refused.empty
    assert "no certificate_basis" in sheet(certificates=(("rose", "2025-01-01", None),)).refused["reason"].iloc[0]


# --- bottles and words ------------------------------------------------------------------------------------------------


def test_headspace_is_kept():
    # 10.45 of 11 ml is exactly 95 %: room left for 10 ml and 0.45 ml of ball, not for 0.46
    assert sheet(displaced_ml=0.45).refused.empty
    made = sheet(displaced_ml=0.46)
    assert "do not leave 5 % of the bottle's 11 ml empty" in made.refused["reason"].iloc[0]


def test_brimful_unknown_is_said():
    made = sheet(brimful_ml=None)
    assert made.refused.empty
    assert math.isnan(made.batches["headspace_pct"].iloc[0])
    assert "not known" in made.problems[0].what


def test_larger_of_a_dual_label_is_filled():
    # NIST Handbook 133 (2026), 2.3.3 [read]; 0.35 US fl oz are 10.3507 ml
    made = sheet(scent={"label_fl_oz": 0.35}, brimful_ml=12.0)
    assert made.batches["fill_ml"].iloc[0] == pytest.approx(0.35 * 29.5735295625)


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"scent": {"scent": "Other"}}, "not in scents.csv"),
        ({"scent": {"formula": "G"}}, "no formula that can be used"),
        ({"scent": {"formula": None}}, "no formula that can be used"),
        ({"scent": {"label_ml": None}}, "no label quantity"),
        ({"bottles": None}, "no number of bottles"),
    ],
)
def test_batch_that_cannot_be_reckoned(change, words):
    made = sheet(**change)
    assert made.weigh_out.empty
    assert made.batches.empty
    assert words in made.refused["reason"].iloc[0]
