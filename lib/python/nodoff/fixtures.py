# SPDX-License-Identifier: MIT
"""For pytest, which finds it by itself once the package is installed:

    def test_the_car_sleeps(sleeps_within):
        sleeps_within("recordings/tuesday", 60)

    def test_nobody_is_accused(judged):
        assert judged("recordings/tuesday").culprits == []
"""
import pytest

import nodoff


@pytest.fixture
def judged():
    """judged(path, ...) is nodoff.judge(path, ...)."""
    return nodoff.judge


@pytest.fixture
def sleeps_within():
    """sleeps_within(path, seconds, ...) fails unless all networks that were heard slept so long
    after the lock and stayed asleep; the rest as for nodoff.judge. Returns the answer."""
    def check(*paths_and_seconds, **how):
        *paths, seconds = paths_and_seconds
        answer = nodoff.judge(*paths, **how)
        answer.assert_sleeps_within(seconds)
        return answer
    return check
