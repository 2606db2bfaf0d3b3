"""The repair window: exact small networks, invariants of the schedule, words of refusal."""

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from depth import examples
from splicewright.errors import InputError
from splicewright.history.shutdown.schedule import (
    forecast_window,
    longest_path_first,
    most_work_behind_first,
    what_more_buys,
    work_greedily,
)
from splicewright.history.shutdown.tasks import (
    Network,
    Task,
    build_network,
    draw_pert,
    draw_triangular,
    with_common_cause,
)


def fixed(name: str, time: float, *after: str, **needs: int) -> Task:
    return Task(name, time, time, time, after, needs)


@st.composite
def networks(draw: st.DrawFn) -> Network:
    number = draw(st.integers(1, 12))
    tasks = []
    for i in range(number):
        low = draw(st.floats(1.0, 100.0))
        after = draw(st.sets(st.integers(0, i - 1), max_size=3)) if i else set()
        tasks.append(
            Task(
                f"t{i}",
                low,
                1.3 * low,
                2 * low,
                tuple(f"t{a}" for a in after),
                {"fitter": draw(st.integers(1, 2)), "punch": 1} if draw(st.booleans()) else {},
            )
        )
    return build_network(tasks)


@settings(max_examples=examples(60), deadline=None)
@given(network=networks(), crew=st.integers(2, 4))
def test_every_schedule_keeps_order_and_crew(network: Network, crew: int) -> None:
    times = draw_pert(network, 20)
    have = {"fitter": crew, "punch": 1}
    made = work_greedily(network, times, have, longest_path_first(network, times))
    np.testing.assert_allclose(made.end, made.start + times)
    for i, before in enumerate(network.before):
        for j in before:
            assert (made.start[i] >= made.end[j]).all()
    for kind, there in have.items():
        need = np.array([t.needs.get(kind, 0) for t in network.tasks])
        for moment in made.start:
            busy = (made.start <= moment) & (made.end > moment)
            assert (need @ busy <= there).all()


@settings(max_examples=examples(60), deadline=None)
@given(network=networks(), crew=st.integers(2, 4))
def test_no_schedule_beats_its_longest_path_or_its_work(network: Network, crew: int) -> None:
    times = draw_triangular(network, 20)
    result = forecast_window(network, times, {"fitter": crew, "punch": 1})
    work = sum(times[i] * t.needs.get("fitter", 0) for i, t in enumerate(network.tasks))
    assert (result.schedules.finish >= np.asarray(work) / crew - 1e-9).all()
    assert result.crew_wait >= -1e-9
    assert result.merge_bias >= -1e-9
    assert result.schedules.finish.min() >= times.max(axis=0).min() - 1e-9


@settings(max_examples=examples(40), deadline=None)
@given(network=networks())
def test_critical_tasks_fill_the_time_to_the_finish(network: Network) -> None:
    # without gaps between them, critical tasks of one run last as long as the job
    times = draw_pert(network, 1)
    result = forecast_window(network, times, {"fitter": 2, "punch": 1})
    held = [i for i, t in enumerate(network.tasks) if result.critical[t.name] == 1.0]
    assert float(times[held].sum()) == pytest.approx(result.mean, rel=1e-9)


def test_tasks_in_a_row_add_up() -> None:
    network = build_network([fixed("a", 10.0), fixed("b", 20.0, "a"), fixed("c", 5.0, "b")])
    result = forecast_window(network, draw_pert(network, 3), {})
    assert result.mean == 35.0
    assert result.chance_by(35.0).share == 1.0
    assert result.chance_by(34.9).share == 0.0
    assert result.critical == {"a": 1.0, "b": 1.0, "c": 1.0}


def test_one_punch_makes_two_joints_wait() -> None:
    tasks = [
        task
        for joint in ("head", "tail")
        for task in (
            fixed(f"{joint} clean", 30.0, fitter=1),
            fixed(f"{joint} punch", 60.0, f"{joint} clean", fitter=1, punch=1),
        )
    ]
    network = build_network(tasks)
    times = draw_pert(network, 2)
    one = forecast_window(network, times, {"fitter": 2, "punch": 1})
    assert one.mean == 150.0
    assert one.crew_wait == pytest.approx(60.0)
    gain = what_more_buys(network, times, {"fitter": 2, "punch": 1}, {"punch": 1}, 100.0)
    assert (gain.before.share, gain.after.share) == (0.0, 1.0)
    assert gain.saved == pytest.approx(60.0)
    assert gain.sooner == 1.0


def test_priority_lists_look_behind() -> None:
    network = build_network([fixed("short", 5.0), fixed("long", 4.0), fixed("tail", 10.0, "long")])
    times = draw_pert(network, 1)
    names = [network.tasks[i].name for i in longest_path_first(network, times)]
    assert names == ["long", "tail", "short"]
    assert most_work_behind_first(network, times)[0] == longest_path_first(network, times)[0]


@pytest.mark.parametrize(("low", "likely", "high"), [(1.0, 2.0, 6.0), (2.0, 2.0, 5.0), (0, 4, 4)])
def test_laws_have_their_mean_and_spread(low: float, likely: float, high: float) -> None:
    # 100 000 draws: standard error of the mean below 0.4 % of the range
    network = build_network([Task("a", low, likely, high)])
    pert = draw_pert(network, 100_000)[0]
    mean = (low + 4 * likely + high) / 6
    assert float(pert.mean()) == pytest.approx(mean, abs=0.004 * (high - low))
    assert float(pert.var()) == pytest.approx((mean - low) * (high - mean) / 7, rel=0.03)
    triangle = draw_triangular(network, 100_000)[0]
    assert float(triangle.mean()) == pytest.approx((low + likely + high) / 3, abs=0.005 * high)
    variance = (low**2 + likely**2 + high**2 - low * likely - low * high - likely * high) / 18
    assert float(triangle.var()) == pytest.approx(variance, rel=0.03)


def test_a_common_cause_fattens_the_late_end() -> None:
    network = build_network([Task(f"t{i}", 50, 60, 90) for i in range(10)])
    chain = build_network(
        [
            Task(t.name, t.low, t.likely, t.high, (f"t{i - 1}",) if i else ())
            for i, t in enumerate(network.tasks)
        ]
    )
    times = draw_pert(chain)
    alone = forecast_window(chain, times, {})
    shared = forecast_window(chain, with_common_cause(times, 0.15), {})
    assert shared.time_for(0.95) > 1.1 * alone.time_for(0.95)
    assert shared.time_for(0.5) == pytest.approx(alone.time_for(0.5), rel=0.01)
    np.testing.assert_array_equal(with_common_cause(times, 0.0), times)


def test_the_same_seed_gives_the_same_answer() -> None:
    network = build_network([Task("a", 1, 2, 4), Task("b", 1, 2, 4)])
    np.testing.assert_array_equal(draw_pert(network, 50), draw_pert(network, 50))


def test_the_error_of_the_simulation_is_stated() -> None:
    network = build_network([Task("a", 1, 2, 4)])
    result = forecast_window(network, draw_pert(network, 400), {})
    chance = result.chance_by(result.time_for(0.5))
    assert chance.error == pytest.approx(math.sqrt(chance.share * (1 - chance.share) / 400))


@pytest.mark.parametrize(
    ("tasks", "words"),
    [
        ([], "tasks: there are none; give at least one"),
        ([fixed("a", 1.0), fixed("a", 2.0)], "task a: is given twice; names must differ"),
        (
            [Task("a", 5.0, 4.0, 9.0)],
            "task a: times 5, 4, 9 s are no range; accepted is 0 <= shortest <= likeliest <= "
            "longest",
        ),
        (
            [Task("a", 1.0, 2.0, math.nan)],
            "task a: times 1, 2, nan s are no range; accepted is 0 <= shortest <= likeliest <= "
            "longest",
        ),
        ([fixed("a", 1.0, "z")], "task a: waits for z, which is no task of this job"),
        (
            [fixed("a", 1.0, fitter=0)],
            "task a: needs 0 of fitter; accepted is a whole number of one or more",
        ),
        (
            [fixed("a", 1.0, "b"), fixed("b", 1.0, "a"), fixed("c", 1.0)],
            "tasks: wait for each other in a ring: a, b",
        ),
    ],
)
def test_jobs_that_cannot_be(tasks: list[Task], words: str) -> None:
    with pytest.raises(InputError) as caught:
        build_network(tasks)
    assert str(caught.value) == words


def test_crews_and_times_that_cannot_be() -> None:
    network = build_network([fixed("a", 1.0, fitter=3)])
    with pytest.raises(InputError) as caught:
        forecast_window(network, draw_pert(network, 2), {"fitter": 2})
    assert str(caught.value) == (
        "task a: needs 3 of fitter, but the crew has 2; the job cannot be done so"
    )
    with pytest.raises(InputError, match=r"times: have shape \(2, 5\); accepted is \(1, runs\)"):
        forecast_window(network, np.ones((2, 5)), {"fitter": 3})
    with pytest.raises(InputError, match="common cause: -1 must be a finite number of zero"):
        with_common_cause(np.ones((1, 2)), -1.0)
