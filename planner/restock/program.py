"""A program with one column picked for each owner and limits they share, solved by HiGHS."""

from typing import TYPE_CHECKING, NamedTuple

import numpy as np

if TYPE_CHECKING:
    import highspy

CLOSE = 1e-7  # in the objective: smaller differences are rounding [money]
MOST_NODES = 2_000  # of the search tree; a count and not a time, so that two runs give the same plan


class Program(NamedTuple):
    """Pick `picks[owner]` columns of each owner so that sums of `use` stay within `most` and `value` is largest."""

    value: np.ndarray  # [column]
    owner: np.ndarray  # [column]
    use: np.ndarray  # [column, limit]
    picks: np.ndarray  # [owner]
    most: np.ndarray  # [limit]


class Answer(NamedTuple):
    """How often each column is picked, and the most that any answer with these columns could be worth."""

    amount: np.ndarray  # [column]
    worth: float
    bound: float
    owner_price: np.ndarray  # [owner] of the relaxed program: what one pick more of it would add
    limit_price: np.ndarray  # [limit] likewise


def solve(program: Program, whole: bool) -> Answer | None:
    """Return the best answer, in whole columns or, relaxed, in shares of them; None where nothing keeps the limits."""
    import highspy

    solver = highspy.Highs.__mro__[1]()  # the same without callbacks, which would print a banner
    options = {
        "output_flag": False,
        "threads": 1,
        "mip_rel_gap": 0.0,
        "mip_abs_gap": CLOSE,
        "mip_max_nodes": MOST_NODES,
    }
    for name, setting in options.items():
        solver.setOptionValue(name, setting)
    solver.passModel(_model(program, whole))
    solver.run()
    info = solver.getInfo()
    if info.primal_solution_status != highspy.SolutionStatus.kSolutionStatusFeasible:
        return None
    solution = solver.getSolution()
    amount, price = np.array(solution.col_value), np.array(solution.row_dual)
    if whole:
        amount = amount.round()
    worth = float(amount @ program.value)
    owners = len(program.picks)
    # HiGHS may leave an early bound behind though it has proven its answer best (seen with 1.16): then worth is it.
    proven = solver.getModelStatus() == highspy.HighsModelStatus.kOptimal
    bound = max(worth, float(info.mip_dual_bound)) if whole and not proven else worth
    return Answer(amount, worth, bound, price[:owners], np.maximum(price[owners:], 0))


def _model(program: Program, whole: bool) -> "highspy.HighsLp":
    """Write the program as HiGHS takes it: by column, first its owner's row, then the limits it takes from."""
    import highspy

    columns, taken = len(program.value), program.use != 0
    start = np.concatenate([[0], np.cumsum(taken.sum(axis=1) + 1)])
    heads = np.zeros(start[-1], bool)
    heads[start[:-1]] = True
    index, entry = np.empty(start[-1], np.int32), np.ones(start[-1])
    index[heads] = program.owner
    index[~heads] = len(program.picks) + np.nonzero(taken)[1]
    entry[~heads] = program.use[taken]
    model = highspy.HighsLp()
    model.num_col_, model.num_row_ = columns, len(program.picks) + len(program.most)
    model.sense_ = highspy.ObjSense.kMaximize
    model.col_cost_, model.col_lower_ = program.value, np.zeros(columns)
    model.col_upper_ = np.full(columns, highspy.kHighsInf)
    model.row_lower_ = np.concatenate([program.picks, np.full(len(program.most), -highspy.kHighsInf)])
    model.row_upper_ = np.concatenate([program.picks, program.most])
    model.a_matrix_.format_ = highspy.MatrixFormat.kColwise
    model.a_matrix_.start_, model.a_matrix_.index_, model.a_matrix_.value_ = start, index, entry
    if whole:
        model.integrality_ = [highspy.HighsVarType.kInteger] * columns
    return model
