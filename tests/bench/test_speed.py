"""A whole check of a sample cel, decoding included, costs at most four times what decoding its file costs.

Run alone: `python -m pytest -n 0 -m bench --benchmark-enable -s tests/bench/test_speed.py`.
"""

from pathlib import Path

import cv2
import pytest
from pytest_benchmark.fixture import BenchmarkFixture
from speed import MUST, ROUNDS, one_round, report, subjects_in, timings_of, typical_ratio


@pytest.mark.bench
def test_a_check_costs_at_most_four_times_the_decoding(benchmark: BenchmarkFixture, tmp_path: Path) -> None:
    if not benchmark.enabled:
        pytest.skip("measures speed: run it alone, as the first lines of this file say")
    threads = cv2.getNumThreads()
    cv2.setNumThreads(1)
    try:
        subjects = subjects_in(tmp_path)
        timings = timings_of(subjects)
        one_round(subjects, timings_of(subjects))
        benchmark.pedantic(one_round, args=(subjects, timings), rounds=ROUNDS)
        print("", *report(subjects, timings, ROUNDS // 3), sep="\n")
    finally:
        cv2.setNumThreads(threads)
    benchmark.extra_info.update({timing.name: round(timing.ratio, 2) for timing in timings})
    assert typical_ratio(timings) <= MUST
