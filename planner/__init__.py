"""What to make, when, from what, and what was lost: from the past sales of a maker of perfume oils."""

import os

# Short fits on small matrices lose their time in thread hand-overs; must be set before numpy is imported.
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
