"""Tests of the play-outs run them as plain Python: compiling would take longer than all of them."""

import os

os.environ["NUMBA_DISABLE_JIT"] = "1"
