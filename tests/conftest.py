"""One thread for linear algebra and no second process in every test, and the checkout's own modules first."""

import os
import sys
from pathlib import Path

for threads in ("OPENBLAS_NUM_THREADS", "OMP_NUM_THREADS", "MKL_NUM_THREADS"):
    os.environ.setdefault(threads, "1")
os.environ.setdefault("COLDSPOT_ONE_PROCESS", "1")

sys.path.insert(0, str(Path(__file__).parents[1]))

from hypothesis import settings  # noqa: E402

settings.register_profile("coldspot", deadline=None, derandomize=True, max_examples=20, database=None)
settings.load_profile("coldspot")
