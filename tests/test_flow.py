"""The example from end to end: every step's table keeps its contract, and two runs give the same bytes."""

import json
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from planner import flow
from planner.files import load_folder
from planner.running import run_notebooks
from planner.starting import new_folder
from planner.tables import STEPS

TRUTH = json.loads((Path(__file__).parent.parent / "data" / "example_truth.json").read_text(encoding="utf-8"))
RESULTS = sorted(f"{name}.csv" for name in STEPS)


@pytest.fixture(scope="module")
def shop():
    return load_folder()


@pytest.fixture(scope="module")
def past(shop):
    return flow.read_past(shop)


@pytest.fixture(scope="module")
def oils(shop):
    return flow.cost_oils(shop)


@pytest.fixture(scope="module")
def runs(shop, oils):
    return flow.study_runs(shop, oils)


@pytest.fixture(scope="module")
def ahead(shop, past):
    return flow.foresee(shop, past)


@pytest.fixture(scope="module")
def restock(shop, past, ahead, oils, runs):
    return flow.plan_restock(shop, past, ahead, oils, runs)


def test_the_example_is_read_without_a_word_of_complaint_about_its_own_files(shop):
    assert [str(problem) for problem in shop.problems] == []
    assert shop.absent == ()


def test_demand_reconciles_to_sales_to_the_unit(past):
    sold = past.books.sales.loc[past.books.sales["kind"].isin(["sale", "refund"]), "bottles"].sum()
    assert past.demand["bottles"].sum() == sold


def test_the_plan_keeps_bench_hours_dates_and_whole_batches(shop, restock):
    bench, plan = restock.bench, restock.plan
    day = bench.groupby("mix_on")["minutes"].sum()
    assert (day <= 60 * shop.settings.bench.hours_per_day + 1e-6).all()
    assert bench["mix_on"].dt.strftime("%a").isin(shop.settings.bench.days).all()
    assert not bench["mix_on"].isin(pd.to_datetime(list(shop.settings.bench.days_off))).any()
    assert (bench["mix_on"] >= shop.today).all()
    assert (bench["ready_on"] <= pd.Timestamp(shop.settings.season.last_day)).all()
    assert bench.groupby("scent").size().to_dict() == plan.query("batches > 0").set_index("scent")["batches"].to_dict()


def test_more_demand_never_makes_the_plan_earn_less(shop, past, ahead, oils, runs, restock):
    doubled = ahead._replace(
        paths=type(ahead.paths)(ahead.paths.bottles * 2, ahead.paths.scents, ahead.paths.weeks, ahead.paths.channel)
    )
    more = flow.plan_restock(shop, past, doubled, oils, runs)
    assert more.plan["contribution"].sum() >= restock.plan["contribution"].sum()


def test_what_is_weighed_fills_the_bottles_and_stays_below_the_limit(shop, restock, oils, runs):
    sheet = flow.weigh_batches(shop, restock.bench, oils, runs)
    grams = sheet.weigh_out.groupby("batch")["grams"].sum()
    assert np.allclose(grams.reindex(sheet.batches["batch"]), sheet.batches["oil_g"], atol=1.0)
    assert (sheet.batches["load_pct"] <= sheet.batches["limit_pct"]).all()
    assert set(sheet.batches["batch"]) == set(restock.bench["batch"])  # no batch is planned that must not be made
    assert sheet.refused.empty


def test_a_scent_without_skin_limit_or_certificate_is_not_planned(shop, oils, restock):
    refused = flow.scents_refused(shop, oils)
    assert refused["scent"].tolist() == ["Moss Parade"]
    assert "skin limit" in refused["reason"].iloc[0]
    plan = restock.plan.set_index("scent")
    assert plan.loc["Moss Parade", "batches"] == 0
    assert "must not be made" in plan.loc["Moss Parade", "why"]


def test_only_shop_scents_and_sales_make_every_page(tmp_path):
    (tmp_path / "sales").mkdir()
    (tmp_path / "shop.toml").write_text(
        'name = "Small"\ncurrency = "GBP"\n[[export]]\nfiles = "*.csv"\nsource = "web"\nchannel = "web"\n'
        'columns = { day = "day", item = "item", bottles = "bottles" }\n',
        encoding="utf-8",
    )
    (tmp_path / "scents.csv").write_text("scent,price,batch_bottles\nFig,18,24\nRose,17,24\n", encoding="utf-8")
    days = pd.date_range("2025-10-06", "2026-09-27", freq="2D").strftime("%Y-%m-%d")
    lines = [f"{day},{scent},{1 + n % 2}" for n, day in enumerate(days) for scent in ("Fig", "Rose")]
    (tmp_path / "sales" / "web.csv").write_text("\n".join(["day,item,bottles", *lines]), encoding="utf-8")
    outcomes = run_notebooks(tmp_path, today="2026-09-28", say=lambda _: None)
    assert [outcome.failure for outcome in outcomes] == [""] * 7
    assert sorted(path.name for path in (tmp_path / "results").glob("*.csv")) == RESULTS


def test_every_batch_has_its_oils_and_bottles_bought_or_on_hand(shop, restock, oils, runs):
    buying = flow.buy_materials(shop, restock, oils, runs).buying
    scents = shop["scents"].set_index("scent").loc[restock.bench["scent"].unique()]
    used = shop["formulas"].loc[shop["formulas"]["formula"].isin(scents["formula"]), "material"]
    assert set(used) | set(scents["bottle"]) <= set(buying["material"])
    enough = buying["needed"] - buying["on_hand"] <= buying["short"] + 1e-6
    assert enough.all()


def test_all_notebooks_run_and_write_every_table(example_run):
    assert [outcome.failure for outcome in example_run.outcomes] == [""] * 7
    assert sorted(path.name for path in example_run.results.glob("*.csv")) == RESULTS


def test_two_runs_on_the_same_folder_and_day_give_the_same_tables_byte_for_byte(example_run, tmp_path):
    new_folder(tmp_path / "shop", example=True)
    run_notebooks(tmp_path / "shop", say=lambda _: None)
    for name in [*RESULTS, "bench.ics"]:
        assert (tmp_path / "shop" / "results" / name).read_bytes() == (example_run.results / name).read_bytes(), name


def test_a_minimal_folder_runs_to_the_end_and_says_what_it_could_not_do(tmp_path):
    new_folder(tmp_path / "shop", example=True)
    for file in (tmp_path / "shop").glob("*.csv"):
        if file.stem != "scents":
            file.unlink()
    outcomes = run_notebooks(tmp_path / "shop", say=lambda _: None)
    assert [outcome.failure for outcome in outcomes] == [""] * 7
    page = (tmp_path / "shop" / "results" / "5-weigh-out.html").read_text(encoding="utf-8")
    assert "formulas.csv" in page
    assert "nothing can be weighed out" in page
