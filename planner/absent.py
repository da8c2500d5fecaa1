"""What could not be done for want of which file, and how to start one."""

from planner.files import Folder
from planner.tables import FILES

WITHOUT = {
    "sets": "gift sets are not taken apart into their scents",
    "formulas": "nothing can be weighed out, bought or costed, and what a scent earns is not known",
    "packing": "bottles are costed and bought without what goes with them",
    "materials": "densities and skin limits are not known, so nothing can be weighed out or costed",
    "packs": "costs are not known, nothing can be bought, and what a scent earns is not known",
    "material_lots": "stock of materials counts as none, and no certificate is known",
    "constituents": "restricted substances of the oils are on no record (no page adds them up yet)",
    "limits": "limits of single substances are on no record (no page checks them yet)",
    "stock": "stock counts as none, and sold-out days are only inferred from weeks without sales",
    "moves": "testers, gifts and breakages look like stock that is still there",
    "calendar": "market days, promotions and closed days are not known",
    "wishes": "the plan follows nobody's wishes but the season's",
    "orders": "promises to stockists are not kept apart",
    "runs": "batches never reach the shelf, and loss, overage and minutes are not learned",
    "weighed": "what was lost in past runs is not known",
    "fills": "how full the bottles are is not known",
    "feedback": "what customers said is on no record (no page shows it yet)",
    "trials": "trials of new oils are on no record (no page compares them yet)",
    "overrides": "no missing paper is overlooked",
}


def say_absent(shop: Folder, *names: str) -> str:
    """List in Markdown what the absent ones of these files would have given; empty text if none is absent."""
    lines = [
        f"- No **{name}.csv**, so {WITHOUT[name]}. To start one, write these headings in its first row, a comma "
        f"between them: {', '.join(f'`{column}`' for column in FILES[name].columns)}. A row is {FILES[name].row}."
        for name in names
        if name in shop.absent
    ]
    return "\n".join(["**What could not be done here:**", "", *lines]) if lines else ""
