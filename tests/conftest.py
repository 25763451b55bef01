"""Shared by all tests: repeatable random examples, without a time limit on a busy machine."""

from __future__ import annotations

from hypothesis import HealthCheck, settings

settings.register_profile(
    "evenfall",
    derandomize=True,
    deadline=None,
    max_examples=60,
    suppress_health_check=[HealthCheck.too_slow, HealthCheck.function_scoped_fixture],
)
settings.load_profile("evenfall")
