import pandas as pd
import pytest

from planner.files import load_folder, save_tables
from planner.problems import MakerError

SHOP = 'name = "Test shop"\ncurrency = "EUR"\ntoday = "2026-09-28"\n'


@pytest.fixture
def folder(tmp_path):
    (tmp_path / "shop.toml").write_text(SHOP)
    (tmp_path / "scents.csv").write_text("scent,price,rest_days\nFig,18,7\nRose,16.5,14\n")
    (tmp_path / "sales").mkdir()
    return tmp_path


def problems(folder):
    return [str(problem) for problem in load_folder(folder).problems]


def test_a_small_folder_is_read_and_absent_files_are_empty_tables(folder):
    shop = load_folder(folder)
    assert list(shop["scents"]["scent"]) == ["Fig", "Rose"]
    assert shop["scents"]["price"].tolist() == [18.0, 16.5]
    assert list(shop["scents"]["row"]) == [2, 3]
    assert shop["stock"].empty
    assert "on_hand" in shop["stock"]
    assert "stock" in shop.absent
    assert "scents" not in shop.absent
    assert shop.problems == ()
    assert shop.today == pd.Timestamp("2026-09-28")


def test_today_can_be_given_and_is_checked(folder):
    assert load_folder(folder, "2026-10-01").today == pd.Timestamp("2026-10-01")
    with pytest.raises(MakerError, match="today: is 'Monday', which is not a day. Write it like 2026-09-28."):
        load_folder(folder, "Monday")


def test_what_must_be_there_is_named(folder, tmp_path):
    with pytest.raises(MakerError, match="is not a folder. Check its name, or start one: planner new FOLDER"):
        load_folder(tmp_path / "nowhere")
    (folder / "scents.csv").unlink()
    with pytest.raises(MakerError, match=r"scents.csv: is not in .* one heading is scent"):
        load_folder(folder)
    (folder / "shop.toml").unlink()
    with pytest.raises(MakerError, match="shop.toml: is not in"):
        load_folder(folder)


def test_an_empty_or_binary_scents_file_is_named(folder):
    (folder / "scents.csv").write_text("scent,price\n")
    with pytest.raises(MakerError, match="scents.csv: has no scents in it"):
        load_folder(folder)
    (folder / "scents.csv").write_bytes(b"PK\x03\x04\0\0\0")
    with pytest.raises(MakerError, match="scents.csv: cannot be read as a table"):
        load_folder(folder)


@pytest.mark.parametrize(
    ("cell", "sentence"),
    [
        ("2026-09-20,Fig,x", "stock.csv, row 3, on_hand: 'x' cannot be used as a whole number. Write a whole number"),
        (
            "2026-09-20,Fig,-4",
            "stock.csv, row 3, on_hand: '-4' cannot be used as a whole number. It cannot be below zero.",
        ),
        ("2026-09-20,Fig,3.5", "stock.csv, row 3, on_hand: '3.5' cannot be used as a whole number. Write a whole"),
        ("September,Fig,4", "stock.csv, row 3, date: 'September' cannot be used as a day. Write the day like"),
        ("2026-09-20,,4", "stock.csv, row 3, scent: is empty."),
        ("2026-09-20,Figg,4", "stock.csv, row 3, scent: 'Figg' is not in scents.csv. Did you mean Fig?"),
        ("2026-09-13,Fig,5", "stock.csv, row 3: is for 2026-09-13, Fig, and so is row 2. Row 2 counts; keep one."),
    ],
)
def test_a_bad_row_is_set_aside_by_name_and_the_others_stay(folder, cell, sentence):
    (folder / "stock.csv").write_text(f"date,scent,on_hand\n2026-09-13,Fig,12\n{cell}\n2026-09-27,Fig,3\n")
    shop = load_folder(folder)
    assert len(problems(folder)) == 1
    assert problems(folder)[0].startswith(sentence)
    assert shop["stock"]["on_hand"].tolist() == [12.0, 3.0]
    assert shop["stock"]["row"].tolist() == [2, 4]


def test_a_run_of_a_scent_that_is_not_there_is_named_and_kept(folder):
    (folder / "runs.csv").write_text(
        "lot,date,scent,bottles_filled\nL1,2026-09-01,Figg,20\nL2,2026-09-02,Figg,8\nL3,2026-09-02,Old Oak,12\n"
    )
    assert problems(folder) == [
        "runs.csv, row 2, scent: 'Figg' is not in scents.csv, so its 28 bottles come on no shelf. Did you mean Fig?",
        "runs.csv, row 4, scent: 'Old Oak' is not in scents.csv, so its 12 bottles come on no shelf. "
        "An old scent may stand; else add it to scents.csv.",
    ]
    assert len(load_folder(folder)["runs"]) == 3


def test_days_for_sale_the_wrong_way_round_are_named_and_left_out(folder):
    (folder / "scents.csv").write_text(
        "scent,first_sold,last_sold\nFig,2026-01-01,2025-01-01\nRose,2025-01-01,2026-01-01\n"
    )
    assert problems(folder) == [
        "scents.csv, row 2, first_sold: Fig is first sold on 2026-01-01, after it is last sold on 2025-01-01. "
        "Neither day counts until you put them right."
    ]
    assert load_folder(folder)["scents"][["first_sold", "last_sold"]].isna().all(axis=1).tolist() == [True, False]


def test_a_like_that_is_no_scent_is_named_with_its_row(folder):
    (folder / "scents.csv").write_text("scent,like\nFig,\nRose,Fig; Figg\nOud,Moss\nIris,Iris;Rose\n")
    assert problems(folder) == [
        "scents.csv, row 3, like: 'Figg' is not in scents.csv, so it says nothing. Did you mean Fig?",
        "scents.csv, row 4, like: 'Moss' is not in scents.csv, so it says nothing. Name others of this file.",
        "scents.csv, row 5, like: 'Iris' is the scent itself, so it says nothing. Name others of this file.",
    ]


def test_a_guess_below_zero_is_refused_whole(folder):
    (folder / "scents.csv").write_text("scent,guess_low,guess_high\nFig,-5,10\nRose,30,60\nOud,,40\n")
    assert problems(folder) == [
        "scents.csv, row 2, guess_low: '-5' cannot be used as a number. It cannot be below zero.",
        "scents.csv, row 2, guess_high: 10 is left out with the other end, so nothing is guessed for Fig. "
        "Write both ends, or one number alone.",
    ]
    scents = load_folder(folder)["scents"]
    assert scents["guess_high"].isna().tolist() == [True, False, False]
    assert scents["guess_low"].isna().tolist() == [True, False, True]


def test_a_bad_optional_cell_is_left_empty_and_named(folder):
    (folder / "scents.csv").write_text("scent,price,rest_days\nFig,dear,7\nRose,16.5,2.5\n")
    shop = load_folder(folder)
    assert shop["scents"]["price"].isna().tolist() == [True, False]
    assert shop["scents"]["rest_days"].isna().tolist() == [False, True]
    assert [problem.row for problem in shop.problems] == [2, 3]


def test_headings_we_do_not_read_get_the_nearest_one(folder):
    (folder / "stock.csv").write_text("date,scent,on_hand,onhand\n2026-09-13,Fig,12,12\n")
    assert "stock.csv, row 1, onhand: is not a column we read. Did you mean on_hand?" in problems(folder)
    (folder / "stock.csv").write_text("day,scent,on_hand\n2026-09-13,Fig,12\n")
    assert any("stock.csv, row 1: has no column date." in problem for problem in problems(folder))


def test_semicolons_decimal_commas_and_a_byte_order_mark_are_read(folder):
    (folder / "shop.toml").write_text(SHOP + 'decimal = ","\ndate_order = "day-first"\n')
    (folder / "scents.csv").write_bytes("\ufeffscent;price;first_sold\nFigué;18,5;01.02.2026\n".encode())
    shop = load_folder(folder)
    assert shop["scents"]["scent"].tolist() == ["Figué"]
    assert shop["scents"]["price"].tolist() == [18.5]
    assert shop["scents"]["first_sold"].tolist() == [pd.Timestamp("2026-02-01")]


def test_xlsx_is_read_wherever_csv_is(folder):
    pd.DataFrame({"date": [pd.Timestamp("2026-09-13")], "scent": ["Fig"], "on_hand": [12]}).to_excel(
        folder / "stock.xlsx", index=False
    )
    stock = load_folder(folder)["stock"]
    assert stock["date"].tolist() == [pd.Timestamp("2026-09-13")]
    assert stock["on_hand"].tolist() == [12.0]


def test_tables_are_written_unrounded_with_iso_dates(folder):
    table = pd.DataFrame({"week": [pd.Timestamp("2026-10-19"), pd.NaT], "mean": [1 / 3, 2.0]})
    assert save_tables(load_folder(folder), set_aside=table) == "Saved under results: set-aside.csv."
    text = (folder / "results" / "set-aside.csv").read_text()
    assert text == "week,mean\n2026-10-19,0.3333333333333333\n,2.0\n"


def test_reading_changes_nothing_in_the_folder(folder):
    before = {path: path.read_bytes() for path in folder.rglob("*") if path.is_file()}
    load_folder(folder)
    assert {path: path.read_bytes() for path in folder.rglob("*") if path.is_file()} == before


def test_an_unreadable_optional_file_is_left_out_by_name(folder):
    (folder / "calendar.csv").write_bytes(b"PK\x03\x04\0\0\0")
    (folder / "stock.csv").write_text("")
    shop = load_folder(folder)
    assert shop["calendar"].empty
    assert shop["stock"].empty
    assert problems(folder) == [
        "stock.csv: cannot be read as a table (it is empty). Save it again as CSV.",
        "calendar.csv: cannot be read as a table (it holds bytes that no text has). Save it again as CSV.",
    ]


def test_a_season_that_is_over_is_left_out_and_named(folder):
    text = SHOP + "[season]\nfirst_day = 2026-10-19\nlast_day = 2026-12-17\n"
    (folder / "shop.toml").write_text(text)
    assert load_folder(folder, "2026-12-17").settings.season is not None
    late = load_folder(folder, "2026-12-18")
    assert late.settings.season is None
    assert str(late.problems[0]).startswith("shop.toml, [season]: The season ended on 2026-12-17, so the twelve weeks")
