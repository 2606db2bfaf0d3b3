"""The room's door: what it shows, and that opening it is quick."""

import subprocess
import sys

from splicewright import history


def test_every_name_shown_is_there() -> None:
    assert len(set(history.__all__)) == len(history.__all__)
    for name in history.__all__:
        assert getattr(history, name).__doc__, name


def test_opening_the_room_does_not_load_scipy() -> None:
    code = "import sys, splicewright.history; print('scipy' in sys.modules)"
    out = subprocess.run(
        [sys.executable, "-c", code],
        env={"PYTHONPATH": ":".join(sys.path)},
        capture_output=True,
        text=True,
        check=True,
    )
    assert out.stdout.strip() == "False"


def test_no_kernel_loads_the_slow_statistics_of_scipy() -> None:
    # scipy.stats takes over a second; special functions and optimisers do not need it
    code = """
import sys
import numpy as np
from splicewright.history import *
life = np.array([300.0, 500, 700, 900])
fit = fit_weibull(lives_of(life, life))
region = likelihood_region(fit)
shape_limits(region), what_is_left(fit.law, 100.0), renew_at_age(laws_around(fit), 1.0, 9.0)
compare_laws(fit), kaplan_meier(fit.lives), pool_groups({"a": fit.lives})
advise_stock(poisson_law(2.0), 0.9)
print("scipy.stats" in sys.modules)
"""
    out = subprocess.run(
        [sys.executable, "-c", code],
        env={"PYTHONPATH": ":".join(sys.path)},
        capture_output=True,
        text=True,
        check=True,
    )
    assert out.stdout.strip() == "False"
