"""A whole check of a sample cel, decoding included, costs at most four times what decoding its file costs.

Run alone: `python -m pytest -m bench --benchmark-enable -s tests/bench/test_speed.py`.
"""

from pathlib import Path

import cv2
import pytest
from pytest_benchmark.fixture import BenchmarkFixture
from speed import MUST, ROUNDS, Timing, dense, one_round, report, sample_ratio, samples


@pytest.mark.bench
def test_a_check_costs_at_most_four_times_the_decoding(benchmark: BenchmarkFixture, tmp_path: Path) -> None:
    if not benchmark.enabled:
        pytest.skip("measures speed: python -m pytest -m bench --benchmark-enable tests/bench/test_speed.py")
    threads = cv2.getNumThreads()
    cv2.setNumThreads(1)
    try:
        subjects = [*samples(), dense(tmp_path)]
        timings = [Timing(subject.name) for subject in subjects]
        one_round(subjects, [Timing("") for _ in subjects])
        benchmark.pedantic(one_round, args=(subjects, timings), rounds=ROUNDS)
        print("", *report(subjects, timings, ROUNDS // 3), sep="\n")
    finally:
        cv2.setNumThreads(threads)
    benchmark.extra_info.update({timing.name: round(timing.ratio, 2) for timing in timings})
    assert sample_ratio(timings) <= MUST
