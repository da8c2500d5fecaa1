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
    assert "a comma between them: `date`, `scent`, `on_hand`. A row is one scent counted at the end of one day." in text
    assert "wishes" not in text
    assert say_absent(shop, "wishes") == ""


def test_headings_stand_apart_so_that_a_narrow_page_can_break_the_line(tmp_path):
    (tmp_path / "shop.toml").write_text('name = "T"\ncurrency = "EUR"\n')
    (tmp_path / "scents.csv").write_text("scent\nFig\n")
    text = say_absent(load_folder(tmp_path), *WITHOUT)
    assert max(len(word) for word in text.split()) < 30
    assert "No **runs.csv**, so batches never reach the shelf" in text
