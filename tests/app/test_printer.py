"""The sheet laid out by a child: the same bytes, faults in words, a killed child replaced."""

from __future__ import annotations

import json
import subprocess
import sys
from collections.abc import Callable, Iterator

import pytest

from evenfall.app.printer import Printer, laid_out
from evenfall.sheet.sheet_page import SheetPage, sheet_page
from evenfall.workflow import TuneAnswer, rig


@pytest.fixture(scope="module")
def sheet(tuned: Callable[[str], TuneAnswer]) -> SheetPage:
    answer = tuned("biplane_124")
    assert answer.plan is not None
    return sheet_page(rig(answer.ready.file, answer.plan), plan_hash="0" * 64, date="2026-05-01")


@pytest.fixture
def printer() -> Iterator[Printer]:
    made = Printer()
    yield made
    made.close()


@pytest.mark.invariant
@pytest.mark.parametrize("kind", ["pdf", "svg1", "svg2"])
def test_the_child_prints_what_this_process_would(sheet: SheetPage, printer: Printer, kind: str) -> None:
    assert printer.printed(sheet, kind=kind, paper="a4") == laid_out(sheet, kind=kind, paper="a4")


def test_a_killed_child_is_replaced(sheet: SheetPage, printer: Printer) -> None:
    first = printer.printed(sheet, kind="pdf", paper="letter")
    assert printer._child is not None
    printer._child.kill()
    printer._child.wait()
    assert printer.printed(sheet, kind="pdf", paper="letter") == first


def test_an_idle_child_ends(sheet: SheetPage) -> None:
    printer = Printer(idle_s=0.05)
    printer.printed(sheet, kind="pdf", paper="a4")
    assert printer._timer is not None
    printer._timer.join(10)
    assert printer._child is None


def test_a_child_whose_server_is_gone_ends_without_a_word(sheet: SheetPage) -> None:
    child = subprocess.Popen(
        [sys.executable, "-m", "evenfall.app.printer"],
        stdin=subprocess.PIPE, stdout=subprocess.PIPE, stderr=subprocess.PIPE,
    )  # fmt: skip
    assert child.stdin is not None
    assert child.stdout is not None
    assert child.stderr is not None
    child.stdout.close()
    child.stdin.write(json.dumps({"page": sheet.model_dump_json(), "kind": "svg1", "paper": "a4"}).encode() + b"\n")
    child.stdin.close()
    with child.stderr as said:
        assert said.read() == b""
    assert child.wait(20) == 0
