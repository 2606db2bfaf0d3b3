"""Graham, Bounds on multiprocessing timing anomalies, SIAM J. Appl. Math. 17 (1969) 416.

From memory: nine jobs, and the four lengths of the greedy schedule that show that more workers,
shorter jobs or fewer rules can make it longer.
"""

import pytest

from splicewright.history.shutdown import work_greedily
from splicewright.history.tasks import Task, build_network, draw_pert

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
