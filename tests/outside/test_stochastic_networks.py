"""Networks with random times whose answer is known.

Exact: sums and largest of exponential and uniform times; the bridge of five exponential tasks, mean
83/24 and variance 2.887153, by a Markov chain of the type of Kulkarni and Adlakha, Operations
Research 34 (1986).

Textbook network of 14 tasks, Hillier and Lieberman, Introduction to Operations Research (data and
results from memory): longest path of average times 44, P(<= 47) by the normal law on that path
.8413; the book's own simulation with triangular times gave about .588.

Textbook network of 13 tasks (data read, a class sheet after Levin et al.): the longest path of
average times is recomputed by hand in the test.
"""

import math

import numpy as np
import pytest

from proof import proves
from splicewright.history.arrays import Array
from splicewright.history.shutdown.schedule import forecast_window
from splicewright.history.shutdown.tasks import (
    Network,
    Task,
    build_network,
    draw_pert,
    draw_triangular,
)

pytestmark = proves(
    "Stock, inspection and shutdown",
    "Shutdown networks with a known answer",
    "C",
    "Tasks in a row, side by side, and the bridge; two textbook networks.",
    doubt="Exact laws; textbook results from memory.",
    tolerance="four standard errors of the runs: passed by chance once in 16,000",
    sketch="network",
)


RUNS = 200_000


def plain(names: str, after: dict[str, str]) -> Network:
    return build_network([Task(n, 1.0, 1.0, 1.0, tuple(after.get(n, ""))) for n in names])


def exponential(network: Network, seed: int) -> Array:
    rng = np.random.default_rng(seed)
    return rng.exponential(1.0, (len(network.tasks), RUNS))


def test_tasks_in_a_row() -> None:
    chain = plain("abcd", {"b": "a", "c": "b", "d": "c"})
    finish = forecast_window(chain, exponential(chain, 1), {}).finish
    assert float(finish.mean()) == pytest.approx(4.0, abs=4 * 2 / math.sqrt(RUNS))
    assert float(finish.var()) == pytest.approx(4.0, rel=0.02)


@pytest.mark.parametrize("k", [2, 3, 5])
def test_tasks_side_by_side(k: int) -> None:
    side = plain("abcde"[:k], {})
    result = forecast_window(side, exponential(side, k), {})
    mean = sum(1 / j for j in range(1, k + 1))
    assert result.mean == pytest.approx(mean, abs=0.012)
    assert float(result.finish.var()) == pytest.approx(
        sum(1 / j**2 for j in range(1, k + 1)), rel=0.03
    )
    # merge bias: the longest path of average times is 1
    assert result.merge_bias == pytest.approx(mean - 1, abs=0.02)


def test_two_uniform_tasks_side_by_side() -> None:
    side = plain("ab", {})
    times = np.random.default_rng(5).random((2, RUNS))
    finish = forecast_window(side, times, {}).finish
    assert float(finish.mean()) == pytest.approx(2 / 3, abs=0.003)
    assert float(finish.var()) == pytest.approx(1 / 18, rel=0.02)


def test_two_normal_tasks_side_by_side() -> None:
    # Clark, Operations Research 9 (1961) 145: the larger of two standard normals
    side = plain("ab", {})
    times = 10 + np.random.default_rng(6).standard_normal((2, RUNS))
    finish = forecast_window(side, times, {}).finish
    assert float(finish.mean()) == pytest.approx(10.564190, abs=4 * 0.826 / math.sqrt(RUNS))
    assert float(finish.var()) == pytest.approx(0.681690, rel=0.02)


def test_bridge() -> None:
    # arcs 1-2, 1-3, 2-3, 2-4, 3-4
    bridge = plain("abcde", {"c": "a", "d": "a", "e": "bc"})
    finish = forecast_window(bridge, exponential(bridge, 7), {}).finish
    assert float(finish.mean()) == pytest.approx(83 / 24, abs=0.015)
    assert float(finish.var()) == pytest.approx(2.887153, rel=0.02)


Times = dict[str, tuple[float, float, float]]

FOURTEEN: Times = {
    "A": (1, 2, 3), "B": (2, 3.5, 8), "C": (6, 9, 18), "D": (4, 5.5, 10), "E": (1, 4.5, 5),
    "F": (4, 4, 10), "G": (5, 6.5, 11), "H": (5, 8, 17), "I": (3, 7.5, 9), "J": (3, 9, 9),
    "K": (4, 4, 4), "L": (1, 5.5, 7), "M": (1, 2, 3), "N": (5, 5.5, 9),
}  # fmt: skip
FOURTEEN_AFTER = {
    "B": "A", "C": "B", "D": "C", "E": "C", "I": "C", "G": "D", "F": "E", "H": "EG", "J": "FI",
    "K": "J", "L": "J", "M": "H", "N": "KL",
}  # fmt: skip


def textbook(times: Times, after: dict[str, str]) -> Network:
    return build_network([Task(n, *t, tuple(after.get(n, ""))) for n, t in times.items()])


def test_fourteen_tasks_by_the_average_path() -> None:
    network = textbook(FOURTEEN, FOURTEEN_AFTER)
    result = forecast_window(network, draw_pert(network, RUNS), {})
    assert result.path_mean == pytest.approx(44.0, abs=0.03)
    # the classic answer: normal law about 44 with variance 9 gives .8413 at 47
    assert 0.5 * math.erfc(-(47 - 44) / 3 / math.sqrt(2)) == pytest.approx(0.8413, abs=5e-5)
    # simulated with the same averages the branches make it later
    assert result.merge_bias > 0.2
    assert result.chance_by(47.0).share < 0.8413


def test_fourteen_tasks_with_triangular_times() -> None:
    network = textbook(FOURTEEN, FOURTEEN_AFTER)
    result = forecast_window(network, draw_triangular(network, RUNS), {})
    # the book simulated few runs: about two of its standard errors
    assert result.chance_by(47.0).share == pytest.approx(0.588, abs=0.02)


def test_the_law_moves_the_answer_more_than_the_network() -> None:
    network = textbook(FOURTEEN, FOURTEEN_AFTER)
    pert, triangle = (
        forecast_window(network, draw(network, 50_000), {}).chance_by(47.0).share
        for draw in (draw_pert, draw_triangular)
    )
    assert pert - triangle > 0.15


def test_thirteen_tasks_by_the_average_path() -> None:
    times: Times = {
        "A": (2, 3, 4), "B": (9, 12, 15), "C": (4, 9, 18), "D": (1, 1, 1), "E": (1, 2, 3),
        "F": (1, 1, 1), "G": (5, 6, 9), "H": (2, 5, 10), "I": (1, 1, 1), "J": (2, 3, 5),
        "K": (8, 10, 14), "L": (2, 2, 2), "M": (2, 2, 2),
    }  # fmt: skip
    after = {
        "B": "A", "D": "B", "E": "CD", "F": "E", "G": "F", "H": "F", "I": "F", "J": "G",
        "K": "HIJ", "L": "K", "M": "L",
    }  # fmt: skip
    network = textbook(times, after)
    result = forecast_window(network, draw_pert(network, RUNS), {})
    path = sum(
        (low + 4 * likely + high) / 6 for low, likely, high in (times[n] for n in "ABDEFGJKLM")
    )
    assert path == pytest.approx(42.8333, abs=5e-5)
    assert result.path_mean == pytest.approx(path, abs=0.02)
    assert result.mean == pytest.approx(path, abs=0.1), "one path leads by far: little merge bias"
    # numpy's beta-PERT draws of the same network, worked when the data were read
    assert result.mean == pytest.approx(42.85, abs=0.03)
    assert result.chance_by(41.0).share == pytest.approx(0.168, abs=0.006)
    assert result.time_for(0.9) == pytest.approx(45.32, abs=0.06)
