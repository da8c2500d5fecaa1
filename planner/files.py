"""The maker's folder: the only module that opens a path in it. Reads every file, writes only under results/."""

import difflib
import json
import os
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date
from functools import partial
from pathlib import Path
from typing import BinaryIO

import pandas as pd

from planner.problems import MakerError, Problem
from planner.settings import FILE, Settings, read_settings
from planner.sheets import read_sheet
from planner.tables import FILES, SalesFile, empty
from planner.typed import typed_table

RESULTS = "results"
ENDINGS = (".csv", ".xlsx")
GUESS = ("guess_low", "guess_high")
# tables whose scent must be one that is for sale; in runs an old scent may stand
OF_SCENTS = ("sets", "stock", "moves", "wishes", "orders")


@dataclass(frozen=True)
class Folder:
    """A maker's folder as it was read: settings, tables by name, sales files to read, and what was wrong."""

    path: Path
    settings: Settings
    today: pd.Timestamp
    tables: Mapping[str, pd.DataFrame]
    exports: tuple[SalesFile, ...]
    absent: tuple[str, ...]  # optional files that are not there
    problems: tuple[Problem, ...]
    keeps_results: bool = True

    def __getitem__(self, name: str) -> pd.DataFrame:
        """Return one of the maker's tables; an absent file is a table without rows."""
        return self.tables[name]


def load_folder(folder: str | Path = "", today: str = "") -> Folder:
    """Read a maker's folder; with no folder, the one named in PLANNER_FOLDER, else the invented example.

    `today` is an ISO date; when empty, the day in shop.toml, else the real day. Raises MakerError when there is
    no folder, no shop.toml or no scents.csv; everything else wrong is in `problems` and the rest is read.
    """
    named = str(folder) or os.environ.get("PLANNER_FOLDER", "")
    path = Path(named) if named else _example()
    if not path.is_dir():
        raise MakerError(
            Problem(str(path), 0, "", "is not a folder.", "Check its name, or start one: planner new FOLDER.")
        )
    settings = read_settings(_settings_text(path))
    day = _today(today, settings)
    tables, problems = _tables(path, settings)
    settings, over = _without_a_season_that_is_over(settings, day)
    exports = _sales_files(path)
    return Folder(
        path=path,
        settings=settings,
        today=day,
        tables=tables,
        exports=exports,
        absent=tuple(name for name in FILES if _find(path, name) is None),
        problems=(*problems, *over),
        keeps_results=bool(named),
    )


def save_tables(folder: Folder, **tables: pd.DataFrame) -> str:
    """Write tables as results/NAME.csv (an underscore in a name becomes a hyphen) and say so in a sentence.

    Dates are ISO 8601, numbers are not rounded. The built-in example keeps nothing.
    """
    if not folder.keeps_results:
        return "Nothing was saved: this is the built-in example. Name a folder to keep its tables."
    names = [f"{name.replace('_', '-')}.csv" for name in tables]
    for name, table in zip(names, tables.values(), strict=True):
        _write(folder.path / RESULTS / name, table.to_csv(index=False, date_format="%Y-%m-%d", lineterminator="\n"))
    return f"Saved under {RESULTS}: {', '.join(names)}."


def save_calendar(folder: Folder, name: str, text: str) -> str:
    """Write a calendar file as results/NAME, line ends as they are, and say so in a sentence."""
    if not folder.keeps_results:
        return f"{name} was not saved: this is the built-in example."
    _write(folder.path / RESULTS / name, text)
    return f"Saved under {RESULTS}: {name}, to import into any calendar."


def save_figures(folder: Folder, notebook: str, figures: Sequence[Mapping[str, str]]) -> None:
    """Write the few figures of a notebook that matter most, for the index page: {"what": ..., "value": ...}."""
    if folder.keeps_results:
        text = json.dumps(list(figures), ensure_ascii=False, indent=1)
        _write(folder.path / RESULTS / "figures" / f"{notebook}.json", text)


def _write(path: Path, text: str) -> None:
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_text(text, encoding="utf-8", newline="")


def _example() -> Path:
    from planner.packed import example_folder

    return example_folder()


def _settings_text(path: Path) -> str:
    file = path / FILE
    if not file.is_file():
        todo = "Every folder has one; planner new FOLDER writes one to fill in."
        raise MakerError(Problem(FILE, 0, "", f"is not in {path}.", todo))
    try:
        return file.read_text(encoding="utf-8-sig")
    except UnicodeDecodeError:
        raise MakerError(Problem(FILE, 0, "", "is not plain text in UTF-8.", "Save it again as UTF-8 text.")) from None


def _today(today: str, settings: Settings) -> pd.Timestamp:
    try:
        return pd.Timestamp(date.fromisoformat(today) if today else settings.today or date.today())
    except ValueError:
        raise MakerError(
            Problem("today", 0, "", f"is '{today}', which is not a day.", "Write it like 2026-09-28.")
        ) from None


def _without_a_season_that_is_over(settings: Settings, today: pd.Timestamp) -> tuple[Settings, list[Problem]]:
    """Leave out a season that ended before today, and say so."""
    season = settings.season
    if season is None or pd.Timestamp(season.last_day) >= today:
        return settings, []
    what = f"The season ended on {season.last_day}, so the twelve weeks from today are looked at instead."
    return replace(settings, season=None), [Problem(FILE, 0, "[season]", what, "Write the days of the next one.")]


def _find(path: Path, name: str) -> Path | None:
    return next((path / (name + ending) for ending in ENDINGS if (path / (name + ending)).is_file()), None)


def _sales_files(path: Path) -> tuple[SalesFile, ...]:
    folder = path / "sales"
    files = sorted(file for file in folder.glob("*") if file.is_file() and not file.name.startswith((".", "~")))
    return tuple(SalesFile(file.name, partial(_opened, file)) for file in files)


def _opened(path: Path) -> BinaryIO:
    return path.open("rb")


def _tables(path: Path, settings: Settings) -> tuple[dict[str, pd.DataFrame], list[Problem]]:
    tables: dict[str, pd.DataFrame] = {}
    problems: list[Problem] = []
    for name, table in FILES.items():
        file = _find(path, name)
        if file is None:
            tables[name] = empty(table).assign(row=pd.Series(dtype="int64"))
            continue
        try:
            sheet = read_sheet(file.name, file.read_bytes())
            tables[name], found = typed_table(sheet, table, file.name, settings)
        except MakerError as error:  # this file is left out, the others are read
            tables[name], found = empty(table).assign(row=pd.Series(dtype="int64")), list(error.problems)
        problems += found
    if tables["scents"].empty:
        raise MakerError(
            *([problem for problem in problems if problem.file.startswith("scents.")] or [_no_scents(path)])
        )
    for name in OF_SCENTS:
        tables[name], found = _of_known_scents(tables[name], _find(path, name), tables["scents"]["scent"])
        problems += found
    problems += _runs_of_no_scent(tables["runs"], _find(path, "runs"), tables["scents"]["scent"])
    file = _find(path, "scents")
    tables["scents"], halves = _with_whole_guesses(tables["scents"], problems)
    tables["scents"], found = _in_order(tables["scents"], file)
    return tables, [*problems, *halves, *found, *_unknown_likes(tables["scents"], file)]


def _no_scents(path: Path) -> Problem:
    todo = "Write one with a line for each scent; the first line is the headings, and one heading is scent."
    what = "has no scents in it." if _find(path, "scents") else f"is not in {path}."
    return Problem("scents.csv", 0, "", what, todo)


def _runs_of_no_scent(runs: pd.DataFrame, file: Path | None, scents: pd.Series) -> list[Problem]:
    """Name each scent of runs that is none of scents.csv; the runs stay, since they teach losses and minutes."""
    problems = []
    for scent, of in runs[~runs["scent"].isin(scents)].groupby("scent", sort=False):
        near = difflib.get_close_matches(str(scent), list(scents), 1)
        todo = f"Did you mean {near[0]}?" if near else "An old scent may stand; else add it to scents.csv."
        what = f"'{scent}' is not in scents.csv, so its {of['bottles_filled'].sum():,} bottles come on no shelf."
        problems.append(
            Problem(file.name if file else "", int(of["row"].iloc[0]), "scent", what, todo, stops=bool(near))
        )
    return problems


def _in_order(scents: pd.DataFrame, file: Path | None) -> tuple[pd.DataFrame, list[Problem]]:
    """Leave out first and last days for sale that are the wrong way round, and name them."""
    wrong = scents["first_sold"] > scents["last_sold"]
    problems = []
    for row, scent, first, last in scents.loc[wrong, ["row", "scent", "first_sold", "last_sold"]].itertuples(
        index=False
    ):
        what = f"{scent} is first sold on {first:%Y-%m-%d}, after it is last sold on {last:%Y-%m-%d}."
        name = file.name if file else "scents.csv"
        problems.append(Problem(name, int(row), "first_sold", what, "Neither day counts until you put them right."))
    return scents.assign(**{name: scents[name].mask(wrong) for name in ("first_sold", "last_sold")}), problems


def _with_whole_guesses(scents: pd.DataFrame, problems: list[Problem]) -> tuple[pd.DataFrame, list[Problem]]:
    """Leave out both ends of a guess of which one could not be used: the other alone would be another guess."""
    bad = {
        problem.row: problem for problem in problems if problem.file.startswith("scents.") and problem.column in GUESS
    }
    refused = scents["row"].isin(bad)
    halves = []
    for name in GUESS:
        for row, scent, value in scents.loc[refused & scents[name].notna(), ["row", "scent", name]].itertuples(
            index=False
        ):
            what = f"{value:g} is left out with the other end, so nothing is guessed for {scent}."
            halves.append(Problem(bad[row].file, int(row), name, what, "Write both ends, or one number alone.", False))
    return scents.assign(**{name: scents[name].mask(refused) for name in GUESS}), halves


def _unknown_likes(scents: pd.DataFrame, file: Path | None) -> list[Problem]:
    """Name each scent under `like` that is none of scents.csv, or the scent itself; the others count."""
    problems, known = [], list(scents["scent"])
    for row, scent, like in scents.loc[scents["like"].notna(), ["row", "scent", "like"]].itertuples(index=False):
        for other in (name.strip() for name in like.split(";")):
            if other and (other not in known or other == scent):
                near = difflib.get_close_matches(other, [name for name in known if name != scent], 1)
                todo = f"Did you mean {near[0]}?" if near else "Name others of this file."
                what = (
                    f"'{other}' is {'the scent itself' if other == scent else 'not in scents.csv'}, so it says nothing."
                )
                problems.append(Problem(file.name if file else "scents.csv", int(row), "like", what, todo))
    return problems


def _of_known_scents(table: pd.DataFrame, file: Path | None, scents: pd.Series) -> tuple[pd.DataFrame, list[Problem]]:
    unknown = ~table["scent"].isin(scents)
    problems = []
    for row, scent in table.loc[unknown, ["row", "scent"]].itertuples(index=False):
        near = difflib.get_close_matches(scent, list(scents), 1)
        todo = f"Did you mean {near[0]}?" if near else "Add it to scents.csv, or take the row out."
        problems.append(Problem(file.name if file else "", int(row), "scent", f"'{scent}' is not in scents.csv.", todo))
    return table[~unknown].reset_index(drop=True), problems
