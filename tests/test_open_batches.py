"""232 real production batches through the loss chart.

Data: Žagar, J. & Mihelič, J. (2022), Big data collection in pharmaceutical manufacturing and its use for product
quality predictions, Scientific Data 9, https://doi.org/10.6084/m9.figshare.c.5645578, CC BY 4.0; a subset.
The facts checked are those stated with the subset [read].
"""

import pandas as pd
import pytest

from planner.control import individuals_limits, run_signals
from planner.losses import run_losses
from planner.tables import FILES, empty

pytestmark = pytest.mark.open_data
MONTH_LABELS = ["jan", "feb", "mar", "apr", "maj", "jun", "jul", "avg", "sep", "okt", "nov", "dec"]
MONTHS = dict(zip(MONTH_LABELS, range(1, 13), strict=True))  # Slovene
ONE_TABLET_G = 1.0  # the balance is in shares, so any weight will do


def whole(name, rows):
    return rows.reindex(columns=FILES[name].columns).astype(empty(FILES[name]).dtypes.to_dict())


@pytest.fixture(scope="module")
def tablets(open_data):
    return pd.read_csv(open_data / "tablet_batches_yield_subset.csv")


def balance(tablets, weighed_pct):
    """Map batches to runs: so many percent of the planned tablets weighed in, the yield filled, the rest lost."""
    month, year = tablets["start"].str[:3].map(MONTHS), 2000 + tablets["start"].str[4:].astype(int)
    lot, product = tablets["batch"].astype(str).str.zfill(3), "product " + tablets["code"].astype(str)
    filled = (tablets["size"] * tablets["batch_yield"] / 100).round().astype("Int64")
    date = pd.to_datetime(pd.DataFrame({"year": year, "month": month, "day": 1}))
    runs = pd.DataFrame({"lot": lot, "date": date, "scent": product, "bottles_filled": filled})
    weighed = pd.DataFrame({"lot": lot, "material": "mix", "grams": tablets["size"] * weighed_pct / 100 * ONE_TABLET_G})
    scents = pd.DataFrame({"scent": product.unique(), "formula": "mix", "label_ml": 1.0})
    return run_losses(
        whole("runs", runs),
        whole("weighed", weighed),
        empty(FILES["fills"]),
        whole("scents", scents),
        pd.DataFrame({"formula": ["mix"], "density_g_per_ml": [ONE_TABLET_G]}),
        pd.DataFrame({"scent": product.unique(), "oil_cost_per_g": 0.01}),
    )


@pytest.fixture(scope="module")
def losses(tablets):
    return balance(tablets, 100)


def test_yields_published(losses):
    table = losses.losses
    pct = 100 * (1 - table["loss_share"])
    assert len(table) == 232
    assert losses.set_aside.empty
    assert pct.mean() == pytest.approx(97.8532, abs=1e-4)
    assert pct.std() == pytest.approx(1.2984, abs=1e-4)
    assert pct.min() == pytest.approx(90.568, abs=1e-3)
    assert pct.max() == pytest.approx(99.621, abs=1e-3)
    assert (pct < 95).sum() == 6
    assert table.loc[table["loss_share"].idxmax(), "lot"] == "082"
    assert table["weighed_g"].sum() == 181_826_000
    assert 100 * table["filled_g"].sum() / table["weighed_g"].sum() == pytest.approx(98.1062, abs=1e-4)


def test_lowest_batch_signals(losses):
    chart = run_signals(individuals_limits(losses.losses[["lot", "date", "loss_share"]], "loss_share", baseline=12))
    assert chart.set_index("lot").at["082", "signal"] == "082 lies above the upper limit."
    # also when the whole series is the baseline, worst batch included
    whole = run_signals(individuals_limits(losses.losses[["lot", "loss_share"]], "loss_share", baseline=232))
    assert whole.set_index("lot").at["082", "signal"] == "082 lies above the upper limit."


def test_records_to_look_at(tablets):
    # the yield of the whole batch is above that of its press in 83 batches [read]: more came out than went in
    made = balance(tablets, tablets["tbl_yield"])
    assert len(made.losses) + len(made.set_aside) == 232
    assert (made.losses["unexplained_g"] < -ONE_TABLET_G).sum() + len(made.set_aside) == 83
