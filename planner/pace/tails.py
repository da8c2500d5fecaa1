"""Scents at the tail of the range: fading or bringing least, and what leaving them would free."""

import pandas as pd

from planner.pace.earning import bench_minutes

FADING_SURE = 0.9  # a scent is called fading only when the chance that it is one is at least this
YEAR_WEEKS = 52


def leaving_frees(pace: pd.DataFrame, costs: pd.DataFrame, scents: pd.DataFrame, minutes: pd.DataFrame) -> pd.DataFrame:
    """Return what a year without each scent that fades or is of class C would free, and what it would cost.

    Columns: scent, fading (chance_fading at least FADING_SURE), abc, ratio_trend, chance_fading, bottles_a_year (its
    pace for a year on the shelf), contribution_a_year (given up, if nobody takes another scent instead) [money],
    bench_hours [hours], fragrance_g [g] and materials_a_year (money tied up in its bottles) [money]. Unknown stays
    missing.
    """
    fading = (pace["chance_fading"] >= FADING_SURE).fillna(False).astype("bool")
    table = pace.assign(fading=fading)[(fading | (pace["abc"] == "C")) & pace["rank"].notna()]
    known = costs.set_index("scent").reindex(table["scent"])
    bottles = (table["pace"] * YEAR_WEEKS).to_numpy()
    grams = known["fragrance_g"] if "fragrance_g" in known else pd.Series(float("nan"), index=known.index)
    freed = {
        "bottles_a_year": bottles,
        "contribution_a_year": bottles * known["contribution_per_bottle"].to_numpy(dtype="float64"),
        "bench_hours": bottles * bench_minutes(scents, minutes).reindex(table["scent"]).to_numpy() / 60,
        "fragrance_g": bottles * grams.to_numpy(dtype="float64"),
        "materials_a_year": bottles * known["material_cost"].to_numpy(dtype="float64"),
    }
    table = table[["scent", "fading", "abc", "ratio_trend", "chance_fading"]].assign(**freed)
    return table.sort_values(["fading", "bottles_a_year"], ascending=[False, True], ignore_index=True)
