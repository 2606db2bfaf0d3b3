"""Times learnt from past jobs: from the stated range to what was seen."""

import math

import numpy as np
import pytest

from splicewright.errors import InputError
from splicewright.history.shutdown.past_times import draw_learnt, learn_time
from splicewright.history.shutdown.tasks import Task, build_network

TASK = Task("punch", 1800.0, 3600.0, 7200.0)


def test_without_past_jobs_the_range_is_about_the_middle_eight_in_ten() -> None:
    law = learn_time(TASK, [])
    assert law.time_for(0.5) == pytest.approx(3600.0)
    # wider than the range itself, for two jobs' worth of knowledge is little
    assert law.time_for(0.1) < 1800.0
    assert law.time_for(0.9) > 7200.0


def test_many_past_jobs_outweigh_the_range() -> None:
    rng = np.random.default_rng(1)
    past = np.exp(math.log(2400) + 0.1 * rng.standard_normal(200))
    law = learn_time(TASK, past.tolist())
    assert law.time_for(0.5) == pytest.approx(2400, rel=0.02)
    assert law.time_for(0.9) == pytest.approx(2400 * math.exp(0.1 * 1.2816), rel=0.04)


def test_more_of_the_same_makes_it_surer() -> None:
    width = [
        math.log(law.time_for(0.9) / law.time_for(0.1))
        for law in (learn_time(TASK, [3600.0] * n) for n in (0, 2, 5, 20))
    ]
    assert width == sorted(width, reverse=True)


def test_a_slow_past_job_moves_the_time_up() -> None:
    assert learn_time(TASK, [9000.0]).time_for(0.5) > 3600.0


@pytest.mark.parametrize("past", [[], [5400.0], [3000.0, 5400.0]])
def test_the_law_is_what_weighed_draws_of_mean_and_spread_give(past: list[float]) -> None:
    """Without the closed form: means and variances drawn from the stated range as if seen in two
    jobs, each weighed by how well it explains the past, and a next time drawn from each."""
    rng = np.random.default_rng(7)
    spread = math.log(TASK.high / TASK.low) / (2 * 1.2816)
    variance = 2 * spread**2 / rng.chisquare(2, 400_000)
    mean = math.log(TASK.likely) + np.sqrt(variance / 2) * rng.standard_normal(variance.size)
    weight = np.ones_like(mean)
    for seen in past:
        weight *= np.exp(-((math.log(seen) - mean) ** 2) / (2 * variance)) / np.sqrt(variance)
    following = mean + np.sqrt(variance) * rng.standard_normal(mean.size)
    order = np.argsort(following)
    share = np.cumsum(weight[order]) / weight.sum()
    law = learn_time(TASK, past)
    for chance in (0.2, 0.5, 0.8):
        drawn = math.exp(following[order][np.searchsorted(share, chance)])
        assert law.time_for(chance) == pytest.approx(drawn, rel=0.02), chance


def test_drawn_times_follow_the_learnt_law_and_the_rest_the_range() -> None:
    network = build_network([TASK, Task("clean", 600.0, 900.0, 1500.0)])
    times = draw_learnt(network, {"punch": [2400.0, 2500.0, 2600.0]}, 20_000)
    law = learn_time(TASK, [2400.0, 2500.0, 2600.0])
    assert float(np.median(times[0])) == pytest.approx(law.time_for(0.5), rel=0.02)
    assert times[0].max() <= 2 * TASK.high
    assert 600 <= times[1].min() <= times[1].max() <= 1500


def test_times_that_cannot_be_are_refused() -> None:
    with pytest.raises(InputError) as caught:
        learn_time(TASK, [3000.0, -5.0])
    assert str(caught.value) == "task punch: took -5 s in a past job; accepted is above zero"
    with pytest.raises(InputError, match="task a: shortest time 0 s; accepted is above zero"):
        learn_time(Task("a", 0.0, 1.0, 2.0), [])
    network = build_network([TASK])
    with pytest.raises(InputError, match="task weld: has past times, but is no task of this job"):
        draw_learnt(network, {"weld": [5.0]})
