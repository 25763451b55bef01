"""How a corner lies is read for all corners and overruled for one."""

from __future__ import annotations

import pytest

from evenfall.errors import FileFaults
from evenfall.plane.files import parse_plane
from evenfall.plane.starter import demo_path


def demo(extra: str) -> str:
    return demo_path("biplane_124").read_text(encoding="utf-8") + extra


def test_one_corner_may_lie_otherwise() -> None:
    read = parse_plane(demo("\n[linkage.aileron.lower_right]\nmirrored = true\nhorn_above = true\n")).plane
    assert read.aileron_linkage["lower_right"].mirrored
    assert read.aileron_linkage["lower_right"].horn_above
    assert not read.aileron_linkage["lower_left"].mirrored
    assert not read.aileron_linkage["lower_right"].reversed


def test_a_flag_is_true_or_false() -> None:
    with pytest.raises(FileFaults, match="mirrored"):
        parse_plane(demo('\n[linkage.aileron.lower_right]\nmirrored = "yes"\n'))
