"""Opening the room, or fitting a law, does not load what is slow to load."""

import subprocess
import sys

import pytest


def _loaded(code: str, module: str) -> bool:
    out = subprocess.run(
        [sys.executable, "-c", f"{code}\nimport sys\nprint({module!r} in sys.modules)"],
        env={"PYTHONPATH": ":".join(sys.path)},
        capture_output=True,
        text=True,
        check=True,
    )
    return out.stdout.strip() == "True"


@pytest.mark.parametrize(
    "module", ["life.study", "wear.study", "stock.study", "shutdown.study", "fleet.study"]
)
def test_importing_a_study_does_not_load_scipy(module: str) -> None:
    assert not _loaded(f"import splicewright.history.{module}", "scipy")


def test_no_kernel_loads_the_slow_statistics_of_scipy() -> None:
    # scipy.stats takes over a second; special functions and optimisers do not need it
    code = """
import numpy as np
from splicewright.history.life.comparison import compare_laws
from splicewright.history.life.limits import scale_at_least
from splicewright.history.life.lives import lives_of
from splicewright.history.life.few_failures import weigh_laws
from splicewright.history.life.pooling import pool_groups
from splicewright.history.life.remaining import count_law
from splicewright.history.life.survival import kaplan_meier
from splicewright.history.life.weibull import fit_weibull
from splicewright.history.renewal import renew_at_age
from splicewright.history.stock.levels import advise_stock, poisson_law
life = np.array([300.0, 500, 700, 900])
fit = fit_weibull(lives_of(life, life))
scale_at_least(fit.lives, 2.0), count_law([0.1, 0.2])
renew_at_age(weigh_laws(fit).mixture(), 1.0, 9.0)
compare_laws(fit), kaplan_meier(fit.lives), pool_groups({"a": fit.lives})
advise_stock(poisson_law(2.0), 0.9)
"""
    assert not _loaded(code, "scipy.stats")
