"""Which scents must not be made, asked before anything is planned: one batch of each is put to the weigh-out."""

import pandas as pd

from planner.settings import Settings
from planner.tables import STEPS, check
from planner.weighout.sheet import weigh_out

NOTHING_OVER = pd.DataFrame({"fixed_g": [0.0], "share": [0.0]})  # what gets lost changes no limit and no paper


def refused_scents(
    scents: pd.DataFrame,
    formulas: pd.DataFrame,
    blends: pd.DataFrame,
    materials: pd.DataFrame,
    packing: pd.DataFrame,
    material_lots: pd.DataFrame,
    overrides: pd.DataFrame,
    settings: Settings,
    today: pd.Timestamp,
) -> pd.DataFrame:
    """Return the scents of which no batch must be made as formula, bottle and papers stand: scent, reason.

    A scent without a formula in formulas.csv, or without batch_bottles, cannot be judged and is not named.
    """
    known = scents[scents["formula"].isin(formulas["formula"]) & scents["batch_bottles"].notna()]
    trial = known.assign(batch=known["scent"], bottles=known["batch_bottles"], vessel=None, minutes=0.0)
    trial = check(trial.assign(mix_on=today, fill_on=today, ready_on=today), STEPS["bench"])
    papers = (material_lots, overrides, NOTHING_OVER, settings, today)
    sheet = weigh_out(trial, scents, formulas, blends, materials, packing, *papers)
    return sheet.refused[["scent", "reason"]].reset_index(drop=True)
