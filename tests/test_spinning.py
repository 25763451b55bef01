"""Spin, snap and the line after a spin, of a plan."""

from __future__ import annotations

from collections.abc import Callable

from evenfall.workflow import TuneAnswer
from evenfall.workflow.spinning import spin_snap


def test_crow_keeps_the_line_after_the_spin_even(tuned: Callable[[str], TuneAnswer]) -> None:
    answer = tuned("biplane_124")
    assert answer.plan is not None
    found = spin_snap(answer.ready, answer.plan, "plan", tables=answer.tuned.tables)
    with_crow, without = found.exits
    assert with_crow.crow
    assert not without.crow
    assert found.spin is not None
    assert with_crow.start == without.start == found.spin.sink.value
    # at the wanted speed sooner without crow, and then beyond it
    assert with_crow.height is not None
    assert without.height is not None
    assert without.height < with_crow.height
    assert without.end > 1.2 * answer.ready.wanted
    assert abs(with_crow.end / answer.ready.wanted - 1) < 0.05
    (stowed, plain), (out, deployed) = found.snaps
    assert not stowed
    assert out
    assert plain is not None
    assert deployed is not None
    assert deployed.rate.value < plain.rate.value
