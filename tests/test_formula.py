"""Blend density, fragrance load, and what a bottle costs."""

import numpy as np
import pandas as pd
import pytest
from hypothesis import given
from hypothesis import strategies as st

from planner.formula import blends, bottle_costs
from planner.settings import Channel, Settings
from planner.tables import FILES, empty


def table(name, rows):
    """Return a maker's table as load_folder hands it on, rows numbered as a spreadsheet does."""
    frame = pd.DataFrame(rows, index=range(len(rows)))
    typed = {column: empty(FILES[name])[column].dtype for column in FILES[name].columns}
    frame = frame.reindex(columns=list(typed)).astype(typed)
    return frame.assign(row=range(2, len(frame) + 2))


def oils(**density):
    rows = [{"material": "carrier", "kind": "carrier oil", "density_g_per_ml": 0.945}]
    return table(
        "materials",
        rows + [{"material": m, "kind": "fragrance oil", "density_g_per_ml": d} for m, d in density.items()],
    )


def formula(name="F", **pct):
    return table("formulas", [{"formula": name, "material": m, "weight_pct": p} for m, p in pct.items()])


def test_blend_density_published():
    # [computed] 20 % by weight of a 1.05 oil in a 0.945 carrier: 0.964286 g/ml without volume change
    made, problems = blends(formula(carrier=80, heavy=20), oils(heavy=1.05))
    assert problems == []
    assert made["density_g_per_ml"].iloc[0] == pytest.approx(0.964286, abs=5e-7)
    assert made["fragrance_load_pct"].tolist() == [20.0]


def test_blend_by_volume_and_back():
    # [computed] 20 % by volume of the 1.05 oil is 21.739 % by weight; 100 ml weighs 0.2 × 105 + 0.8 × 94.5 g
    made, _ = blends(formula(carrier=78.261, heavy=21.739), oils(heavy=1.05))
    assert made["density_g_per_ml"].iloc[0] == pytest.approx(0.2 * 1.05 + 0.8 * 0.945, rel=1e-5)


def test_load_is_the_sum_of_all_fragrance_oils():
    made, _ = blends(formula(carrier=70, rose=20.1, oud=9.9), oils(rose=0.9, oud=1.1))
    assert made["fragrance_load_pct"].tolist() == [30.0]


def test_percents_add_up_in_decimals():
    # 99.7 + 0.1 + 0.1 + 0.1 is not 100 in binary arithmetic, and is 100 on paper
    assert 99.7 + 0.1 + 0.1 + 0.1 != 100
    made, problems = blends(formula(carrier=99.7, a=0.1, b=0.1, c=0.1), oils(a=1.0, b=1.0, c=1.0))
    assert len(made) == 1
    assert problems == []


@pytest.mark.parametrize(("pct", "words"), [(19.9, "0.1 short of 100"), (20.01, "0.01 over 100")])
def test_percents_that_do_not_add_up(pct, words):
    lines = pd.concat([formula("Bad", carrier=80, heavy=pct), formula("Good", carrier=80, heavy=20)])
    lines["row"] = range(2, 6)
    made, problems = blends(lines, oils(heavy=1.05))
    assert made["formula"].tolist() == ["Good"]
    assert len(problems) == 1
    assert (problems[0].file, problems[0].row, problems[0].column) == ("formulas.csv", 3, "weight_pct")
    assert words in problems[0].what


@pytest.mark.parametrize(
    ("materials", "words"),
    [
        (oils(heavy=None), "density is not known"),
        (oils(), "not in materials.csv"),
        (oils(heavy=1.0).assign(kind="fragance"), "whose kind is 'fragance'"),
    ],
)
def test_oil_that_cannot_be_weighed(materials, words):
    made, problems = blends(formula(carrier=80, heavy=20), materials)
    assert made.empty
    assert words in problems[-1].what
    assert problems[-1].row == 3


def test_no_percent():
    made, problems = blends(formula(carrier=100, heavy=None), oils(heavy=1.0))
    assert made.empty
    assert [p.row for p in problems] == [3]


@given(st.integers(1, 99), st.floats(0.8, 1.2), st.floats(0.8, 1.2))
def test_density_lies_between_its_parts(pct, a, b):
    materials = oils(x=a, y=b)
    made, _ = blends(formula(x=pct, y=100 - pct), materials)
    assert min(a, b) - 1e-12 <= made["density_g_per_ml"].iloc[0] <= max(a, b) + 1e-12


# --- costs ------------------------------------------------------------------------------------------------------------

SHOP = Settings(name="Test", currency="EUR", channels=(Channel("market"), Channel("web", fee_pct=5, fee_each=0.3)))


def costs(scent=None, packs=None, packing=None, settings=SHOP):
    scent = {"scent": "Fig", "formula": "F", "bottle": "bottle", "label_ml": 10, "price": 20} | (scent or {})
    materials = oils(heavy=1.05)
    lines = formula(carrier=80, heavy=20)
    if packs is None:
        packs = [
            ("carrier", 1, "kg", 10),
            ("heavy", 100, "g", 15),
            ("bottle", 100, "pieces", 50),
            ("label", 1000, "pcs", 90),
        ]
    packs = [dict(zip(("material", "pack_size", "pack_unit", "pack_cost"), pack, strict=True)) for pack in packs]
    packing = [{"what": "Fig", "material": "label"}] if packing is None else packing
    return bottle_costs(
        table("scents", [scent]),
        blends(lines, materials).blends,
        lines,
        table("packing", packing),
        table("packs", [{"supplier": "S"} | pack for pack in packs]),
        materials,
        settings,
    )


def test_costs_worked_by_hand():
    # oil: 0.8 × 0.01 + 0.2 × 0.15 = 0.038 a gram, 9.64286 g = 0.366429; bottle 0.50, label 0.09; fees 1.00 + 0.30
    table, problems = costs()
    row = table.iloc[0]
    assert problems == []
    assert row["fill_g"] == pytest.approx(9.642857, abs=1e-6)
    assert row["oil_cost_per_g"] == pytest.approx(0.038)
    assert row["material_cost"] == pytest.approx(0.956429, abs=1e-6)
    assert row["fees"] == pytest.approx(1.30)
    assert row["contribution_per_bottle"] == pytest.approx(20 - 0.956429 - 1.30, abs=1e-6)


def test_packing_in_grams_and_without_an_amount():
    flowers = [
        ("flowers", 100, "g", 20),
        ("carrier", 1, "kg", 10),
        ("heavy", 100, "g", 15),
        ("bottle", 1, "piece", 0.5),
    ]
    table, _ = costs(packs=flowers, packing=[{"what": "Fig", "material": "flowers", "per_bottle": 0.5, "unit": "g"}])
    assert table["material_cost"].iloc[0] == pytest.approx(0.366429 + 0.5 + 0.1, abs=1e-6)
    # the bottle named twice is counted once
    twice, _ = costs(packing=[{"what": "Fig", "material": "bottle"}, {"what": "Fig", "material": "label"}])
    assert twice["material_cost"].iloc[0] == pytest.approx(0.956429, abs=1e-6)


def test_packing_in_a_unit_we_do_not_read():
    table, problems = costs(packing=[{"what": "Fig", "material": "label", "per_bottle": 1, "unit": "sheet"}])
    assert np.isnan(table["material_cost"].iloc[0])
    assert (problems[0].file, problems[0].row) == ("packing.csv", 2)
    assert "'sheet' is not" in problems[0].what


def test_cheapest_pack_counts_whatever_its_unit():
    # 1 US fl oz = 29.5735295625 ml (NIST Handbook 44, Appendix C) [read-2nd]; × 1.05 = 31.052 g for 3,
    # 0.096612 a gram; 100 g for 15 is dearer
    packs = [
        ("carrier", 1, "kg", 10),
        ("heavy", 100, "g", 15),
        ("heavy", 1, "US fl oz", 3),
        ("bottle", 1, "piece", 0),
        ("label", 1, "piece", 0),
    ]
    table, _ = costs(packs=packs)
    assert table["oil_cost_per_g"].iloc[0] == pytest.approx(0.8 * 0.01 + 0.2 * 3 / (29.5735295625 * 1.05))


def test_fill_of_carrier_alone():
    # [computed] 15 ml of a 0.945 carrier weigh 14.175 g
    made, problems = blends(formula(carrier=100), oils())
    none = {name: table(name, []) for name in FILES}
    scents = table("scents", [{"scent": "Plain", "formula": "F", "label_ml": 15}])
    fills, _ = bottle_costs(scents, made, formula(carrier=100), none["packing"], none["packs"], oils(), SHOP)
    assert problems == []
    assert fills["fill_g"].iloc[0] == pytest.approx(14.175)


def test_larger_of_a_dual_label_counts():
    # NIST Handbook 133 (2026), 2.3.3 [read]: the larger of the two counts.
    # [computed] 0.51 US fl oz is 15.0825 ml, more than 15 ml; 0.5 US fl oz is 14.7868 ml, less
    assert costs({"label_ml": 15, "label_fl_oz": 0.51})[0]["label_ml"].iloc[0] == pytest.approx(15.0825, abs=5e-5)
    assert costs({"label_ml": 15, "label_fl_oz": 0.5})[0]["label_ml"].iloc[0] == 15
    assert costs({"label_ml": None, "label_fl_oz": 0.5})[0]["label_ml"].iloc[0] == pytest.approx(14.7868, abs=5e-5)


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"price": None}, "no price is given"),
        ({"label_ml": None}, "no label quantity is given"),
        ({"formula": None}, "no formula that can be used"),
        ({"bottle": "jar"}, "one of its materials has no price"),
    ],
)
def test_unknown_is_missing_and_said(change, words):
    table, problems = costs(change)
    assert np.isnan(table["contribution_per_bottle"].iloc[0])
    assert len(problems) == 1
    assert "Fig" in problems[0].what
    assert words in problems[0].what
    assert not problems[0].stops


def test_bottle_not_named_is_said():
    table, problems = costs({"bottle": None})
    assert table["material_cost"].iloc[0] == pytest.approx(0.366429 + 0.09, abs=1e-6)
    assert "without a bottle" in problems[0].what


@pytest.mark.parametrize(
    ("pack", "words"),
    [
        (("heavy", 1, "fl oz", 3), "'fl oz' is not"),
        (("heavy", 0, "g", 3), "size above 0"),
        (("other", 1, "l", 3), "density"),
    ],
)
def test_pack_that_cannot_be_read(pack, words):
    packs = [("carrier", 1, "kg", 10), ("bottle", 1, "piece", 0.5), ("label", 1, "piece", 0), pack]
    _, problems = costs(packs=packs)
    assert words in problems[0].what
    assert (problems[0].file, problems[0].row) == ("packs.csv", 5)


def test_fees_of_the_first_channel_where_there_is_no_web():
    shop = Settings(name="Test", currency="EUR", channels=(Channel("fair", fee_pct=10), Channel("shop")))
    assert costs(settings=shop)[0]["fees"].iloc[0] == pytest.approx(2)
    assert costs(settings=Settings(name="Test", currency="EUR"))[0]["fees"].iloc[0] == 0


def test_nothing_but_scents():
    scents = table("scents", [{"scent": "Fig", "price": 20}])
    none = {name: table(name, []) for name in FILES}
    mix = blends(none["formulas"], none["materials"]).blends
    made, problems = bottle_costs(
        scents, mix, none["formulas"], none["packing"], none["packs"], none["materials"], SHOP
    )
    assert made["contribution_per_bottle"].isna().all()
    assert len(problems) == 1
