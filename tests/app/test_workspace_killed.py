"""Nothing is lost: random work is taken back to its beginning, and a writer is killed at any instant."""

from __future__ import annotations

import random
import subprocess
import sys
import time
from pathlib import Path

import pytest

from evenfall.app import messages
from evenfall.app.workspace import Workspace
from evenfall.errors import InputError
from workspace_bench import TEXT, Bench

# --- random work -----------------------------------------------------------------------------------------------------


def random_action(random_: random.Random, bench: Bench) -> None:
    plans = [entry.file for entry in bench.work.folder_page().plans] or ["bi.plan.toml"]
    pick = random_.randrange(11)
    if pick <= 2:
        key = random_.choice(["mass.cg_x_mm", "mass.cg_x_cm", "drag.0.x_mm", "name", "rigging.washout_deg"])
        value = "words" if key == "name" else random_.choice([random_.random(), 29.0, None, (28.0, 2.0)])
        bench.do("plane.set", file="bi.toml", edits={key: value})
    elif pick == 3:
        bench.do("part.add", file="bi.toml", part=random_.choice(["wheel", "wire", "area"]))
    elif pick == 4:
        bench.do("part.drop", file="bi.toml", index=random_.randrange(5))
    elif pick == 5:
        level = random_.choice(["0", "25", "50"])
        bench.do("plan.set", plane="bi.toml", file=random_.choice(plans), changes={"level": level})
    elif pick == 6:
        bench.do("plan.freeze", plane="bi.toml", file=random_.choice(plans), label=random_.choice(["a", "b"]))
    elif pick == 7:
        bench.do("plan.thaw", plane="bi.toml", file=random_.choice(plans))
    elif pick == 8:
        bench.do(random_.choice(["undo", "redo"]), file=random_.choice(["bi.toml", *plans]))
    elif pick == 9:
        path = bench.folder / random_.choice(["bi.toml", *plans])
        if random_.random() < 0.3:
            path.unlink(missing_ok=True)
        elif path.exists():
            path.write_text(path.read_text() + f"# {random_.random()}\n")
    else:
        bench.again()


@pytest.mark.property
def test_whatever_is_done_can_be_taken_back_and_done_again(bench: Bench) -> None:
    random_ = random.Random(5)
    refused = 0
    for _ in range(200):
        try:
            random_action(random_, bench)
        except InputError:
            refused += 1
    assert refused < 120
    bench.work.poll()
    heads = bench.work._journal.heads()
    assert {"bi.toml", "bi.plan.toml"} <= set(heads)
    for file, head in heads.items():
        path = bench.folder / file
        assert head.text == (path.read_bytes().decode() if path.exists() else None)
        first = 1 if file == "bi.toml" else 0
        while bench.work._journal.heads()[file].redo is not None:
            bench.do("redo", file=file)
        last = path.read_bytes() if path.exists() else None
        steps = bench.work._journal.heads()[file].position
        for _ in range(steps):
            bench.do("undo", file=file)
        assert (bench.text(file) if path.exists() else None) == (TEXT if first else None)
        with pytest.raises(InputError, match="nothing to undo"):
            bench.do("undo", file=file)
        for _ in range(steps):
            bench.do("redo", file=file)
        assert (path.read_bytes() if path.exists() else None) == last


# --- killed ----------------------------------------------------------------------------------------------------------

WRITER = Path(__file__).with_name("keeps_writing.py")


def write_until_killed(folder: Path, first: int, *, after_s: float = 0.0, point: str = "") -> int:
    """The last change that was answered before the writer was killed; `first` - 1 where none was."""
    command = [sys.executable, str(WRITER), str(folder), str(first), *([point] if point else [])]
    with subprocess.Popen(command, stdout=subprocess.PIPE, text=True) as process:
        assert process.stdout is not None
        assert process.stdout.readline() == "ready\n"
        if not point:
            time.sleep(after_s)
            process.kill()
        said = process.stdout.read().split()
    return int(said[-1]) if said else first - 1


def span(text: str) -> int:
    return int(text.partition("[wing.upper]\nspan_mm = ")[2].split("\n")[0])


def check_after(folder: Path, last: int, first: int) -> int:
    """Every answered change is there, at most one more; undo works; a token sent again is not repeated."""
    path = folder / "plane.toml"
    work = Workspace(folder)
    now = span(path.read_text())
    assert now in (last, last + 1)
    assert work.folder_page().notes == ()
    assert work.plane_text("plane.toml")[0] == path.read_text()
    assert list(folder.glob("*.toml")) == [path]
    action = messages.PlaneSet(what="plane.set", file="plane.toml", edits={"wing.upper.span_mm": now})
    revision = work.plane_text("plane.toml")[1]
    said = f"wing.upper.span_mm set to {now}"
    assert now == 1 or work.act(action, token=f"token-{now}").words == said
    assert work.plane_text("plane.toml")[1] == revision
    if now > first:
        work.act(messages.Undo(what="undo", file="plane.toml"), token=f"undo-{now:06d}-{last}")
        assert span(path.read_text()) == now - 1
        work.act(messages.Redo(what="redo", file="plane.toml"), token=f"redo-{now:06d}-{last}")
        assert span(path.read_text()) == now
    work.close()
    return now


def kill_often(folder: Path, times: int) -> None:
    (folder / "plane.toml").write_text(TEXT.replace("span_mm = 1240", "span_mm = 1", 1))
    random_ = random.Random(11)
    now = 1
    for _ in range(times):
        first = now + 1
        last = write_until_killed(folder, first, after_s=random_.uniform(0.0, 0.08))
        now = check_after(folder, last, first)


def test_killed_at_any_instant_nothing_is_lost(tmp_path: Path) -> None:
    kill_often(tmp_path, 25)


@pytest.mark.long
def test_killed_at_any_instant_nothing_is_lost_often(tmp_path: Path) -> None:
    kill_often(tmp_path, 200)


@pytest.mark.parametrize(
    ("point", "there"),
    [
        ("before the intent", False),
        ("after the intent", True),
        ("before the file", True),
        ("in the file", True),
        ("after the file", True),
        ("before the step", True),
        ("after the step", True),
    ],
)
def test_killed_at_every_point_of_a_change(point: str, there: bool, tmp_path: Path) -> None:
    (tmp_path / "plane.toml").write_text(TEXT)
    last = write_until_killed(tmp_path, 10, point=point)
    assert last == 11
    assert check_after(tmp_path, last, 10) == (12 if there else 11)


def test_an_edit_from_outside_after_a_crash_keeps_both(tmp_path: Path) -> None:
    (tmp_path / "plane.toml").write_text(TEXT)
    write_until_killed(tmp_path, 10, point="before the file")
    (tmp_path / "plane.toml").write_text(TEXT + "# another\n")
    made = Bench(tmp_path)
    assert made.text("plane.toml") == TEXT + "# another\n"
    made.do("undo", file="plane.toml")
    assert span(made.text("plane.toml")) == 12
    made.do("undo", file="plane.toml")
    assert span(made.text("plane.toml")) == 11
    made.work.close()
