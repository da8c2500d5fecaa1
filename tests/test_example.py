"""The example folder is what its generator writes, keeps the contracts of its tables, and holds what it promises."""

import json
import subprocess
import sys
from decimal import Decimal
from pathlib import Path

import pandas as pd
import pytest

from planner.files import load_folder
from planner.sales import read_sales
from planner.settings import read_settings
from planner.shelf import shelf_days
from planner.tables import FILES

DATA = Path(__file__).parents[1] / "data"
EXAMPLE = DATA / "example"
TODAY = pd.Timestamp("2026-09-28")


def table(name: str, **options) -> pd.DataFrame:
    return pd.read_csv(EXAMPLE / f"{name}.csv", **options)


@pytest.fixture(scope="module")
def truth() -> dict:
    return json.loads((DATA / "example_truth.json").read_text(encoding="utf-8"))


@pytest.fixture(scope="module")
def settings():
    return read_settings((EXAMPLE / "shop.toml").read_text(encoding="utf-8"))


@pytest.fixture(scope="module")
def shop():
    return load_folder(EXAMPLE)


@pytest.fixture(scope="module")
def books(shop):
    return read_sales(shop.exports, shop.settings, shop["scents"], shop["sets"], shop.today)


@pytest.fixture(scope="module")
def old_shop() -> pd.DataFrame:
    return pd.read_csv(EXAMPLE / "sales/web_old_shop_2023-2025.csv", dtype="str")


@pytest.fixture(scope="module")
def new_shop() -> pd.DataFrame:
    return pd.read_csv(EXAMPLE / "sales/web_new_shop_2025-2026.csv", sep=";", dtype="str")


def test_generator_writes_the_same_bytes(tmp_path):
    made = tmp_path / "data" / "example"
    command = [sys.executable, "-B", "-W", "error", str(DATA / "make_example.py"), str(made)]
    done = subprocess.run(command, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr
    written = {path.relative_to(made.parent) for path in made.parent.rglob("*") if path.is_file()}
    kept = [path for path in EXAMPLE.rglob("*") if path.is_file() and "results" not in path.parts]
    kept += [DATA / "example_truth.json", DATA / "example_wanted.csv"]
    assert written == {path.relative_to(DATA) for path in kept}
    for path in written:
        assert (made.parent / path).read_bytes() == (DATA / path).read_bytes(), f"{path} was edited by hand"


def test_every_file_of_the_folder_is_there_with_its_columns():
    assert {path.stem for path in EXAMPLE.glob("*.csv")} == set(FILES)
    for name, contract in FILES.items():
        frame = table(name)
        assert sorted(frame.columns) == sorted(contract.columns), name
        assert len(frame), name
        if contract.key:
            assert not frame.duplicated(list(contract.key)).any(), name
            assert frame[list(contract.needed)].notna().all().all(), name


def test_settings_are_accepted_and_say_invented(settings):
    assert settings.note.startswith("Invented shop")
    assert str(settings.today) == "2026-09-28"
    assert [export.source for export in settings.exports] == ["web shop", "web shop", "card reader", "stockist sheet"]
    files = [path.name for path in (EXAMPLE / "sales").iterdir()]
    assert all(any(Path(name).match(export.files) for export in settings.exports) for name in files)


def test_twelve_scents_one_launched_this_year_and_one_that_never_sells(truth):
    scents = table("scents", parse_dates=["first_sold"])
    assert len(scents) == 12
    assert scents.loc[scents["first_sold"] >= "2026-01-01", "scent"].tolist() == ["Plum Lantern"]
    assert truth["bottles"]["sale"]["Bog Myrtle Rain"] == 1


def test_two_scents_were_sold_out_for_weeks_while_people_asked_for_them(truth):
    spells = {spell["scent"]: pd.date_range(spell["first_day"], spell["last_day"]) for spell in truth["sold_out"]}
    assert {(scent, days[0].year) for scent, days in spells.items()} == {("Clove Ferry", 2024), ("Quince Ember", 2025)}
    stock = table("stock", parse_dates=["date"])
    wanted = pd.read_csv(DATA / "example_wanted.csv", index_col="week", parse_dates=["week"])
    for scent, days in spells.items():
        assert len(days) >= 21
        counted = stock[(stock["scent"] == scent) & stock["date"].isin(days[:-1])]
        assert len(counted) >= 3
        assert (counted["on_hand"] == 0).all()
        assert wanted.loc[days[7] : days[-7], scent].sum() > 15


def test_orders_of_both_web_shops_overlap(truth, old_shop, new_shop):
    both = set(old_shop["Order"].dropna()) & set(new_shop["Order no."].dropna())
    assert (
        old_shop["Order"].isin(both).sum() == new_shop["Order no."].isin(both).sum() == truth["overlapping_web_lines"]
    )
    assert len(both) > 80
    assert not set(old_shop.columns) & set(new_shop.columns)


def test_lines_of_the_files_add_up_to_the_truth(truth, old_shop, new_shop):
    # plain count of one scent without a set and without other names: Peatsmoke Pear
    new = new_shop[~new_shop["Order no."].isin(set(old_shop["Order"].dropna()))]
    market, trade = pd.read_csv(EXAMPLE / "sales/card_reader.csv"), pd.read_csv(EXAMPLE / "sales/stockists.csv")
    name = "peatsmoke pear"
    sold = [
        old_shop.loc[old_shop["Product"].str.lower() == name, "Quantity"].astype(int).sum(),
        new.loc[new["Article"].str.lower() == f"{name} 10 ml", "Pieces"].astype(int).sum(),
        market.loc[market["Item"].str.lower() == name, "Qty"].sum(),
        trade.loc[trade["Scent"].str.lower() == name, "Bottles"].sum(),
    ]
    assert sum(sold) == sum(kind.get("Peatsmoke Pear", 0) for kind in truth["bottles"].values())


def test_exports_hold_the_dirt_they_promise(settings, old_shop, new_shop):
    assert old_shop["Order"].str.startswith("RW").sum() > 20
    assert (new_shop["Status"] == "refunded").sum() > 10
    for items in (old_shop["Product"], new_shop["Article"]):
        assert items.isin(settings.not_products).any()
    assert {"Quince Embers", "Sea-glass candle", "Harbour Trio"} <= set(old_shop["Product"])
    assert old_shop["Quantity"].eq("two").sum() == 1
    assert pd.to_datetime(old_shop["Ordered at"], format="%Y-%m-%d %H:%M", errors="coerce").isna().sum() == 1
    assert (old_shop["Price each"] == "0.00").any()
    assert (new_shop["Unit price"] == "0,00").any()
    assert old_shop["Email"].dropna().str.endswith("@example.org").all()  # reserved for examples: RFC 2606
    assert pd.read_csv(EXAMPLE / "sales/stockists.csv")["Day"].str.startswith("March").sum() == 1


def test_card_reader_sells_on_market_days_only_and_two_weekends_a_month():
    market = pd.read_csv(EXAMPLE / "sales/card_reader.csv")
    days = pd.to_datetime(market["Sale date"], format="%d-%m-%Y")
    calendar = table("calendar", parse_dates=["first_day", "last_day"])
    weekends = calendar[calendar["kind"] == "market"]
    open_days = set(weekends["first_day"]) | set(weekends["last_day"])
    assert set(days) <= open_days
    assert weekends.groupby(weekends["first_day"].dt.to_period("M")).size().eq(2).all()
    assert market.duplicated(["Sale date", "Item", "Qty", "Amount"]).any()  # two customers, not one line twice


def test_a_third_or_more_of_a_year_sells_in_eight_weeks_before_christmas():
    wanted = pd.read_csv(DATA / "example_wanted.csv", index_col="week", parse_dates=["week"]).sum(axis=1)
    for year in (2024, 2025):
        assert 2500 < wanted.loc[f"{year}"].sum() < 3500
        assert wanted.loc[f"{year}-10-28" : f"{year}-12-24"].sum() > wanted.loc[f"{year}"].sum() / 3


def test_formulas_add_to_100_exactly_and_stay_below_their_limits():
    formulas = table("formulas", dtype={"weight_pct": "str"})
    added = formulas.groupby("formula")["weight_pct"].agg(lambda parts: sum(map(Decimal, parts)))
    assert (added == 100).all()
    assert set(formulas["material"]) <= set(table("materials")["material"])
    oils = formulas.merge(table("materials"), on="material").query("kind == 'fragrance oil'")
    share = oils["weight_pct"].astype(float) / oils["skin_limit_pct"]
    assert oils.loc[share.isna(), "formula"].tolist() == ["Moss Parade"]  # the paper that is missing
    assert (share.groupby(oils["formula"]).sum() <= 1).all()
    loads = oils["weight_pct"].astype(float).groupby(oils["formula"]).sum()
    assert loads.between(12, 20).all()
    assert (oils.groupby("formula").size() == 2).sum() == 2


def test_substances_of_every_formula_stay_below_their_limits():
    load = table("formulas").merge(table("constituents"), on="material")
    summed = (load["weight_pct_x"] * load["weight_pct_y"] / 100).groupby([load["formula"], load["substance"]]).sum()
    limits = table("limits").set_index("substance")["limit_pct"]
    for (formula, substance), pct in summed.items():
        assert pct <= limits.get(substance, 100), (formula, substance)
    assert table("limits")["source"].str.contains("confirm on your certificate").all()


def test_bottles_hold_their_label_with_what_else_is_inside(settings):
    packing = table("packing").groupby("what")["displaced_ml"].sum()
    brimful = table("materials").set_index("material")["brimful_ml"]
    for scent in table("scents").itertuples():
        room = brimful[scent.bottle] * (1 - settings.filling.headspace_pct / 100) - packing[scent.scent]
        assert room >= scent.label_ml


def test_thirty_runs_one_spilled_and_a_series_that_drifts(truth):
    runs = table("runs").set_index("lot")
    fills = table("fills").assign(net=lambda bottles: bottles["gross_g"] - bottles["tare_g"])
    weighed = table("weighed").groupby("lot")["grams"].sum()
    assert len(runs) == len(weighed) == fills["lot"].nunique() == 30
    filled = fills.groupby("lot")["net"].mean() * runs["bottles_filled"]
    unexplained = weighed - filled - runs["residue_g"]
    assert unexplained.idxmax() == truth["spilled_lot"]
    assert 40 < unexplained.max() < 60
    assert unexplained.drop(truth["spilled_lot"]).between(-3, 8).all()
    usual = runs["residue_g"] - truth["loss"]["share"] * weighed
    drift = usual.loc[truth["drift_from_lot"] :]
    assert len(drift) == 8
    assert drift.iloc[-3:].min() > usual.iloc[:-8].max() + 3


def test_last_count_is_the_true_stock_and_nothing_rests_today(truth):
    stock = table("stock")
    last = stock[stock["date"] == "2026-09-28"].set_index("scent")["on_hand"]
    assert (last - pd.Series(truth["on_hand_today"])).abs().sum() <= 1
    ready = pd.to_datetime(table("runs")["date"]) + pd.Timedelta(days=14)
    assert (ready <= TODAY).all()


def test_planner_reads_every_bottle_of_the_truth(truth, shop, books):
    assert not list(shop.problems)
    read = books.sales.groupby(["kind", "scent"])["bottles"].sum()
    true = {(kind, scent): n for kind, scents in truth["bottles"].items() for scent, n in scents.items()}
    assert read[read != 0].to_dict() == true
    stops = [problem for problem in books.problems if problem.stops]
    assert {(problem.file, problem.column) for problem in stops if problem.column} == {
        ("stockists.csv", "Day"),
        ("web_old_shop_2023-2025.csv", "Ordered at"),
        ("web_old_shop_2023-2025.csv", "Quantity"),
    }


def test_planner_finds_the_spells_and_little_else(truth, shop, books):
    files = (shop[name] for name in ("scents", "stock", "runs", "moves", "calendar"))
    shelf = shelf_days(books.sales, *files, shop.settings, shop.today)
    web = shelf.shelf[(shelf.shelf["channel"] == "web") & (shelf.shelf["day"].dt.month != 1)]  # closed in January
    found = {scent: set(days) for scent, days in web[web["on_shelf"] == 0].groupby("scent")["day"]}
    for spell in truth["sold_out"]:
        true = set(pd.date_range(spell["first_day"], spell["last_day"])[1:])  # half of the first day was on sale
        assert len(true - found[spell["scent"]]) <= 1
        found[spell["scent"]] -= {*true, pd.Timestamp(spell["first_day"])}
    assert sum(map(len, found.values())) <= 7  # a day here and there that is no spell
    first_run = shop["runs"]["date"].min()
    since = shelf.differences[shelf.differences["date"] > first_run + pd.Timedelta(days=21)]
    assert since["difference"].abs().max() <= 2
    assert 0 < (since["difference"] != 0).sum() < len(since) / 4


def test_names_agree_between_the_files(settings):
    scents, materials = set(table("scents")["scent"]), set(table("materials")["material"])
    for name in ("stock", "moves", "sets", "wishes", "orders", "runs", "feedback"):
        assert set(table(name)["scent"]) <= scents, name
    for name in ("packing", "packs", "material_lots", "constituents", "weighed", "trials"):
        assert set(table(name)["material"]) <= materials, name
    assert set(table("packing")["what"]) <= scents | set(table("sets")["set"])
    assert set(table("scents")["formula"]) == set(table("formulas")["formula"])
    assert {vessel.name for vessel in settings.vessels} >= set(table("runs")["vessel"])
    lots = set(table("material_lots")["material_lot"])
    assert set(table("weighed")["material_lot"]) <= lots
    assert set(table("packs")["material"]) == materials
