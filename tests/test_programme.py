"""A programme tuned: settings flown, the evenest kept, taken up again, stopped on request."""

from __future__ import annotations

import math
import re
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import pytest

from evenfall.advise import programme
from evenfall.advise.programme import Trial, best_for_wind, front, refined
from evenfall.lines.flown_path import Ended
from evenfall.lines.sequence import Figure, Line, Loop, Sequence
from evenfall.sheet.programme_page import ProgrammePage, TrialPage, programme_page
from evenfall.sheet.programme_text import programme_parts
from evenfall.sheet.svg import width_of, write_picture
from evenfall.sheet.trade_picture import trade_svg
from evenfall.workflow import Ready, TuneAnswer, programming
from evenfall.workflow.programming import Stopped, tune_programme


def trial(level: str, share: float, cost: float, energy: float, windy: float = 0.1) -> Trial:
    return Trial(level=level, share=share, calm=cost, doubt=cost, weak=cost, windy=(windy,), energy=energy, left=0.5,
                 ended=Ended.FLOWN)  # fmt: skip


def test_front_and_lowest_of_a_parabola() -> None:
    trials = [trial("0", x, 0.05 + (x - 0.5) ** 2, 100 + 50 * x) for x in (0.2, 0.4, 0.6, 0.8)]
    found = refined(trials, level="0")
    assert found == pytest.approx(0.5, abs=0.02)
    assert refined(trials[2:], level="0") is None
    assert refined(trials[1:], level="0") is None  # the best lies at an end
    kept = front([*trials, trial("25", 0.5, 0.9, 500)])
    assert [item.share for item in kept] == sorted(item.share for item in kept)
    assert all(b.cost < a.cost and b.energy > a.energy for a, b in zip(kept, kept[1:], strict=False))
    assert "25" not in {item.level for item in kept}
    assert best_for_wind([trial("0", 0.2, 0.1, 1, windy=0.3), trial("0", 0.4, 0.2, 1, windy=0.2)], 0).share == 0.4


@pytest.fixture
def short() -> Sequence:
    """One vertical up, a half loop over the top, one vertical down and level again: an arc between each."""
    quarter = math.pi / 2
    parts = (
        Line(slope=0.0, length=40.0, pause=True),
        Loop(angle=quarter, radius=20.0, towards="canopy"),
        Line(slope=quarter, length=20.0),
        Loop(angle=math.pi, radius=20.0, towards="canopy"),
        Line(slope=-quarter, length=60.0),
        Loop(angle=quarter, radius=20.0, towards="canopy"),
        Line(slope=math.pi, length=60.0, pause=True),
    )
    return Sequence(name="Up and down (invented)", invented=True, figures=(Figure(name="up and down", parts=parts),),
                    height=60.0, place=-60.0)  # fmt: skip


@pytest.fixture
def fast(monkeypatch: pytest.MonkeyPatch, tuned: Callable[[str], TuneAnswer]) -> Ready:
    """Two sizes of crow at one level; the lines are tuned already."""
    answer = tuned("biplane_124")
    monkeypatch.setattr(programming, "SHARES", (0.3, 1.0))
    monkeypatch.setattr(programming, "LEVELS", 1)
    monkeypatch.setattr(programming, "tune", lambda ready, progress: answer)
    return answer.ready


def test_a_programme_is_tuned_kept_and_taken_up(
    fast: Ready, short: Sequence, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    keep, said = tmp_path / "part", []
    answer = tune_programme(fast, short, winds=(4.0,), keep=keep, cores=1, progress=said.append)
    assert answer.best is not None
    assert answer.plan is not None
    assert len(answer.trials) == 3
    calm = {item.share: item.calm for item in answer.trials}
    assert calm[1.0] < calm[0.3]  # more crow keeps this down line more even
    assert any("3 of 3" in words for words in said)
    page = programme_page(answer)
    assert sum(row.best for row in page.trials) == 1
    assert page.trials[0].over_all_percent == min(row.over_all_percent for row in page.trials)
    assert [row.wind_m_s for row in page.by_wind] == [0.0, 4.0]
    assert "worsens" in page.gusts
    assert programme_parts(page)
    assert trade_svg(page).count("<circle") == len(page.trials) - 1

    def never(*_: object, **__: object) -> Trial:
        raise AssertionError("flown again")

    monkeypatch.setattr(programming, "fly_trial", never)
    keep.write_text("no json\n" + keep.read_text() + '{"course": "another"}\n')
    again = tune_programme(fast, short, winds=(4.0,), keep=keep, cores=1)
    assert again.best == answer.best


def test_names_in_the_picture_do_not_lie_on_each_other(tmp_path: Path) -> None:
    near = [
        TrialPage(
            level="0", crow_deg=20.0 + k, over_all_percent=9.0 - 0.01 * k, calm_percent=3.0, doubt_percent=3.0,
            weak_percent=3.0, windy_percent=(), energy_wh=5.8 + 0.001 * k, left_percent=84.0, flown=True, front=True,
            best=k == 5,
        )
        for k in range(6)
    ]  # fmt: skip
    far = near[0].model_copy(update={"crow_deg": 5.0, "over_all_percent": 13.0, "energy_wh": 5.4})
    page = ProgrammePage(
        plane="A", sequence="B", wanted_m_s=22.0, possible=True, words=(), trials=(*near, far), winds_m_s=(),
        by_wind=(), settings=(), gusts="",
    )  # fmt: skip
    drawn = trade_svg(page)
    assert drawn.count("<circle") == 6
    assert drawn.count(", 25.0°") == drawn.count(", 5.0°") == 1
    names = [
        (float(left), float(left) + width_of(words, 13.0), float(foot))
        for left, foot, words in re.findall(r'<text x="([\d.]+)" y="([\d.]+)"[^>]*>(motor brake [^<]+)', drawn)
    ]
    assert len(names) >= 2
    write_picture(tmp_path / "trade.svg", drawn)
    write_picture(tmp_path / "trade.svg", drawn, force=True)
    assert trade_svg(page, styled=False).startswith("<svg")
    for k, (left, right, foot) in enumerate(names):
        assert 70 < left < right < 720
        assert not any(left < b and a < right and abs(foot - at) < 15 for a, b, at in names[:k])


def test_where_nothing_is_evener_the_plan_of_the_lines_stays(
    fast: Ready, short: Sequence, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(programming, "fly_trial", lambda course, level, share: trial(level, share, 0.03, 1800.0))
    answer = tune_programme(fast, short, winds=(4.0,), cores=1)
    assert answer.best is answer.start
    assert answer.start is not None
    assert any("nothing to change" in words for words in programme_page(answer).words)


def test_stopping_keeps_what_was_flown(fast: Ready, short: Sequence, tmp_path: Path) -> None:
    keep, flown = tmp_path / "part", []

    def progress(words: str) -> None:
        if words.startswith("programme"):
            flown.append(words)

    with pytest.raises(Stopped, match="kept"):
        tune_programme(fast, short, winds=(), keep=keep, cores=1, progress=progress, cancelled=lambda: len(flown) >= 1)
    assert len(keep.read_text().splitlines()) == 1


def test_a_flight_that_fails_counts_as_wholly_uneven(fast: Ready, short: Sequence) -> None:
    """A loop of 2.5 m radius at 22 m/s asks for some 20 times the weight: no wing carries it."""
    tight = replace(short, figures=(Figure(name="too tight", parts=(Loop(angle=2 * math.pi, radius=2.5),)),))
    answer = tune_programme(fast, tight, winds=(), cores=1)
    assert answer.best is None
    assert answer.plan is None
    assert {item.calm for item in answer.trials} == {programme._FAILED}
    assert "No setting" in programme_page(answer).words[0]
