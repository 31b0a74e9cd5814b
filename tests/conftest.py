"""One thread for linear algebra: the test processes share the cores, and threads of small matrices only wait for each other."""

import os

for name in ("OPENBLAS_NUM_THREADS", "OMP_NUM_THREADS", "MKL_NUM_THREADS"):
    os.environ.setdefault(name, "1")
