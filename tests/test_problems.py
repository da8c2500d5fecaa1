import pytest

from planner.problems import MakerError, Problem, problem_table


@pytest.mark.parametrize(
    ("problem", "sentence"),
    [
        (
            Problem("stock.csv", 3, "on_hand", "is empty.", "Fill it in."),
            "stock.csv, row 3, on_hand: is empty. Fill it in.",
        ),
        (Problem("stock.csv", 0, "", "is empty.", ""), "stock.csv: is empty."),
        (Problem("", 0, "", "Nothing was found.", "Look again."), "Nothing was found. Look again."),
    ],
)
def test_a_problem_says_where_what_and_what_to_do(problem, sentence):
    assert str(problem) == sentence


def test_an_error_is_its_sentences_and_never_a_traceback():
    error = MakerError(Problem("a.csv", 1, "", "is odd.", ""), Problem("b.csv", 2, "", "is odd too.", ""))
    assert str(error) == "a.csv, row 1: is odd.\nb.csv, row 2: is odd too."
    assert error._render_traceback_() == ["a.csv, row 1: is odd.", "b.csv, row 2: is odd too."]


def test_problems_become_a_table_in_the_order_they_were_found():
    table = problem_table([Problem("b.csv", 2, "x", "w", "t", stops=False), Problem("a.csv", 1, "", "w", "t")])
    assert table["file"].tolist() == ["b.csv", "a.csv"]
    assert table["stops"].tolist() == [False, True]
    assert problem_table([]).empty
