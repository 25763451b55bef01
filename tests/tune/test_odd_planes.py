"""Planes with a few numbers far off: every job answers or refuses in words, never a traceback, never NaN."""

from __future__ import annotations

import json
import random
from pathlib import Path

import pytest

from evenfall import workflow
from evenfall.errors import EvenfallError
from evenfall.plane.files import PlaneFile, load_plane
from evenfall.plane.starter import DEMOS, demo_path
from evenfall.radio.planfile import load_plan, write_plan
from evenfall.sheet.make import predict_page, tune_page

FACTORS = (0.1, 0.3, 0.5, 0.7, 1.5, 2.0, 3.0, 10.0, -1.0)
WHOLE = {"cells", "pole_pairs", "blades", "count", "spline_teeth", "horn_arms"}


def odd_plane(rng: random.Random, path: Path) -> PlaneFile:
    """The next plane that the reader accepts, with up to four plain numbers multiplied."""
    while True:
        rows = demo_path(rng.choice(DEMOS)).read_text(encoding="utf-8").split("\n")
        plain = [index for index, row in enumerate(rows) if "=" in row and not row.startswith(("#", "format"))]
        for _ in range(rng.choice([1, 1, 2, 4])):
            place = rng.choice(plain)
            key, _, rest = rows[place].partition("=")
            try:
                value = float(rest.split("#")[0]) * rng.choice(FACTORS)
            except ValueError:
                continue
            rows[place] = f"{key}= {max(1, round(value)) if key.strip() in WHOLE else value!r}"
        path.write_text("\n".join(rows), encoding="utf-8")
        try:
            return load_plane(path)
        except EvenfallError:
            continue


def all_jobs(file: PlaneFile, plan_path: Path) -> str:
    """Run tune, write its plan, predict with and without it; returns the status."""
    answer = workflow.tune(file)
    json.dumps(tune_page(answer).model_dump(mode="json"), allow_nan=False)
    json.dumps(predict_page(workflow.predict(file)).model_dump(mode="json"), allow_nan=False)
    if answer.plan is not None:
        write_plan(answer.plan, plan_path, force=True)
        load_plan(plan_path, file.plane)
    return answer.tuned.status


@pytest.mark.outside
@pytest.mark.parametrize("seed", range(2))
def test_odd_planes_get_an_answer(tmp_path: Path, seed: int) -> None:
    file = odd_plane(random.Random(seed), tmp_path / "plane.toml")
    assert all_jobs(file, tmp_path / "x.plan.toml") in ("met", "limited", "none")


@pytest.mark.long
@pytest.mark.outside
def test_many_odd_planes_get_an_answer(tmp_path: Path) -> None:
    rng = random.Random(1)
    ends: dict[str, int] = {}
    for _ in range(40):
        file = odd_plane(rng, tmp_path / "plane.toml")
        try:
            end = all_jobs(file, tmp_path / "x.plan.toml")
        except EvenfallError as error:
            assert str(error)
            end = "refused"
        ends[end] = ends.get(end, 0) + 1
    print(ends)
    assert sum(ends.values()) == 40
