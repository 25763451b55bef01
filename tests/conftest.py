"""Shared by all tests: repeatable random examples without a time limit, and the demo planes solved once a session."""

from __future__ import annotations

import functools
from collections.abc import Callable

import pytest
from hypothesis import HealthCheck, settings

from evenfall import workflow
from evenfall.plane.files import load_plane
from evenfall.plane.starter import demo_path

settings.register_profile(
    "evenfall",
    derandomize=True,
    deadline=None,
    max_examples=60,
    suppress_health_check=[HealthCheck.too_slow, HealthCheck.function_scoped_fixture],
)
settings.load_profile("evenfall")


TUNE, PREDICT = workflow.tune, workflow.predict
"""The jobs themselves, whatever a test puts in their place."""


@pytest.fixture(scope="session")
def ready() -> Callable[[str], workflow.Ready]:
    """A demo plane by name in standard air, its lifting line and propeller map made once."""
    return functools.cache(lambda name: workflow.prepare(load_plane(demo_path(name))))


@pytest.fixture(scope="session")
def tuned() -> Callable[[str], workflow.TuneAnswer]:
    """The answer of `tune` for a demo plane by name, once a session."""
    return functools.cache(lambda name: TUNE(demo_path(name)))


@pytest.fixture(scope="session")
def present() -> Callable[[str], workflow.Predicted]:
    """The answer of `predict` without a plan for a demo plane by name, once a session."""
    return functools.cache(lambda name: PREDICT(demo_path(name)))
