from planner.absent import WITHOUT, say_absent
from planner.files import load_folder
from planner.tables import FILES


def test_every_optional_file_says_what_is_lost_without_it():
    assert set(WITHOUT) == set(FILES) - {"scents"}


def test_only_absent_files_are_named_with_how_to_start_one(tmp_path):
    (tmp_path / "shop.toml").write_text('name = "T"\ncurrency = "EUR"\n')
    (tmp_path / "scents.csv").write_text("scent\nFig\n")
    (tmp_path / "wishes.csv").write_text("scent,at_least\nFig,1\n")
    shop = load_folder(tmp_path)
    text = say_absent(shop, "stock", "wishes")
    assert "No **stock.csv**, so stock counts as none" in text
    assert "`date,scent,on_hand`; a row is one scent counted on one day." in text
    assert "wishes" not in text
    assert say_absent(shop, "wishes") == ""
