"""Every relation of loop and tension takes arrays: what each of its values gives, all at once."""

from __future__ import annotations

import importlib
import inspect
import pkgutil
from typing import Any

import numpy as np
import pytest

import splicewright.loop
import splicewright.tension
from splicewright.quantities import FORMULAS

for package in (splicewright.loop, splicewright.tension):
    for module in pkgutil.walk_packages(package.__path__, f"{package.__name__}."):
        importlib.import_module(module.name)

COUNT = 5
ELEMENTS = {"lengths", "alpha_in", "alpha_out", "entering", "leaving"}
"""Arguments that are arrays over the loop's elements in tension.elastic, tested there."""

RELATIONS = sorted(
    key
    for key, one in FORMULAS.items()
    if key.split(".")[0] in {"loop", "tension"}
    and not (".stretch." in key and ELEMENTS & set(inspect.signature(one.function).parameters))
    and not key.endswith(".belt_in_sag")  # arrays over runs, tested in at_rest/test_model
)


def test_there_are_many() -> None:
    assert len(RELATIONS) > 110


@pytest.mark.parametrize("key", RELATIONS)
@pytest.mark.parametrize("sign", [1.0, -1.0], ids=["plus", "minus"])
def test_an_array_gives_what_its_values_give(key: str, sign: float) -> None:
    function: Any = FORMULAS[key].function
    names = list(inspect.signature(function).parameters)
    rng = np.random.default_rng(len(key))
    values = {name: rng.uniform(0.2, 0.9, COUNT) for name in names}
    if sign < 0:  # a first argument below zero: rises that fall, pulls that brake
        values[names[0]] = -values[names[0]]
    with np.errstate(invalid="ignore", divide="ignore"):
        alone = [function(**{n: float(v[k]) for n, v in values.items()}) for k in range(COUNT)]
        together = np.broadcast_to(np.asarray(function(**values), dtype=float), COUNT)
        grid = function(
            **{n: v[:, np.newaxis] if n == names[0] else v for n, v in values.items()}
        )  # fmt: skip
    assert together == pytest.approx(np.asarray(alone, dtype=float), nan_ok=True, rel=1e-12)
    square = np.broadcast_to(np.asarray(grid, dtype=float), (COUNT, COUNT))
    assert np.diagonal(square) == pytest.approx(together, nan_ok=True, rel=1e-12)
