"""Greedy schedules against published ones, both from memory.

Graham, Bounds on multiprocessing timing anomalies, SIAM J. Appl. Math. 17 (1969) 416.

Nine jobs, and the four lengths of the greedy schedule that show that more workers, shorter jobs or
fewer rules can make it longer.

Fisher and Thompson, 1963, six jobs on six machines ("ft06"): the shortest schedule there is takes
55. A greedy plan promises no optimum; the test shows how far it is from one.
"""

import pytest

from splicewright.history.shutdown.schedule import forecast_window, work_greedily
from splicewright.history.shutdown.tasks import Task, build_network, draw_pert

TIMES = {1: 3, 2: 2, 3: 2, 4: 2, 5: 4, 6: 4, 7: 4, 8: 4, 9: 9}
AFTER = {9: (1,), 5: (4,), 6: (4,), 7: (4,), 8: (4,)}
LOOSER = {9: (1,), 7: (4,), 8: (4,)}
SHORTER = {job: time - 1 for job, time in TIMES.items()}


@pytest.mark.parametrize(
    ("times", "after", "workers", "length"),
    [(TIMES, AFTER, 3, 12), (TIMES, AFTER, 4, 15), (SHORTER, AFTER, 3, 13), (TIMES, LOOSER, 3, 16)],
    ids=["as given", "one more worker", "each job shorter", "fewer rules"],
)
def test_length_of_the_greedy_schedule(
    times: dict[int, int], after: dict[int, tuple[int, ...]], workers: int, length: int
) -> None:
    network = build_network(
        [
            Task(str(j), t, t, t, tuple(str(a) for a in after.get(j, ())), {"worker": 1})
            for j, t in times.items()
        ]
    )
    order = sorted(range(9), key=lambda i: int(network.tasks[i].name))
    made = work_greedily(network, draw_pert(network, 1), {"worker": workers}, order)
    assert made.finish[0] == length


SIX = """2 1 0 3 1 6 3 7 5 3 4 6
1 8 2 5 4 10 5 10 0 10 3 4
2 5 3 4 5 8 0 9 1 1 4 7
1 5 0 5 2 5 3 3 4 8 5 9
2 9 1 3 4 5 5 4 0 3 3 1
1 3 3 3 5 9 0 10 4 4 2 1"""


def test_six_jobs_on_six_machines() -> None:
    tasks = []
    for job, row in enumerate(SIX.splitlines()):
        pairs = [int(n) for n in row.split()]
        for k in range(6):
            machine, time = pairs[2 * k : 2 * k + 2]
            after = (f"{job}.{k - 1}",) if k else ()
            tasks.append(Task(f"{job}.{k}", time, time, time, after, {f"machine {machine}": 1}))
    network = build_network(tasks)
    crew = {f"machine {m}": 1 for m in range(6)}
    result = forecast_window(network, draw_pert(network, 1), crew)
    assert 55 <= result.mean <= 1.15 * 55
