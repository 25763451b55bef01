"""The sheet as a page, in words, on paper and on a phone: whole, reproducible, harmless names, nothing overwritten."""

from __future__ import annotations

import re
import zlib
from html.parser import HTMLParser
from pathlib import Path
from typing import Any

import pytest

from evenfall import workflow
from evenfall.errors import EditedFileError, InputError
from evenfall.plane.starter import demo_path
from evenfall.radio.planfile import load_plan, write_plan
from evenfall.sheet import gates, sheet_page
from evenfall.sheet.arm_drawing import arm_svg
from evenfall.sheet.gates import fastest, stick_of
from evenfall.sheet.html import sheet_html
from evenfall.sheet.pages import Page
from evenfall.sheet.pdf import sheet_pdf
from evenfall.sheet.sheet_file import write_sheet
from evenfall.sheet.sheet_page import SheetPage, make_sheet, sheet_date
from evenfall.sheet.sheet_words import entry_words, sheet_words

NASTY = '#eval("1+1") <script>alert(1)</script> $x$ *b* \\u{41} @a // /* ]'
DATE = "2026-03-01"


@pytest.fixture(scope="module")
def rigged(tuned: Any) -> workflow.RigAnswer:
    plan = tuned("biplane_124").plan
    return workflow.rig(demo_path("biplane_124"), plan)


@pytest.fixture(scope="module")
def page(rigged: workflow.RigAnswer) -> SheetPage:
    return sheet_page.sheet_page(rigged, plan_hash="0123456789abcdef" * 4, date=DATE)


def renamed(page: SheetPage, name: str) -> SheetPage:
    return page.model_copy(update={"plane": name, "plan": name})


def pdf_pages(pdf: bytes) -> int:
    """Pages of a PDF, object streams opened."""
    whole = pdf + b"".join(_opened(part) for part in re.findall(rb"stream\r?\n(.*?)\r?\nendstream", pdf, re.S))
    return len(re.findall(rb"/Type\s*/Page\b(?!s)", whole))


def _opened(part: bytes) -> bytes:
    try:
        return zlib.decompress(part)
    except zlib.error:
        return b""


@pytest.mark.documents
def test_every_field_is_described() -> None:
    for module in (sheet_page, gates):
        for kind in vars(module).values():
            if isinstance(kind, type) and issubclass(kind, Page) and kind is not Page:
                for name, field in kind.model_fields.items():
                    assert field.description, (kind.__name__, name)


def test_gates_in_order_with_heights(page: SheetPage, rigged: workflow.RigAnswer) -> None:
    names = [gate.name.split(",")[0] for gate in page.gates]
    assert names == ["Bench signs", "Level at height", "45 down", "Vertical down", "Snap", "Spin", "Landing"]
    assert page.gates[0].height_m is None
    down = page.predicted.lines[0].steady[0].speed_m_s
    assert down.spread is not None
    assert page.gates[3].speed_m_s == pytest.approx(down.value + 2 * down.spread)
    assert fastest(rigged, "vertical down") == page.gates[3].speed_m_s
    for gate in page.gates[1:]:
        h = gate.height_m
        assert h is not None
        assert h.total == pytest.approx(h.settle + h.figure + h.decide + h.pull_out + h.reserve)
        shown = float(entry_words(gate).removesuffix(" m"))
        assert h.total <= shown < h.total + 10
        assert gate.abort.endswith(".")
    heights = {gate.name: gate.height_m.total for gate in page.gates if gate.height_m is not None}
    assert heights["45 down"] < heights["Vertical down"] < heights["Snap"] < heights["Spin"]


def test_steps_of_crow_are_stick_positions(rigged: workflow.RigAnswer) -> None:
    plan = rigged.predicted.plan
    for out in gates.STEPS:
        assert float(plan.deployment(stick_of(plan, out))) == pytest.approx(out, abs=0.02)


def test_words_hold_every_part(page: SheetPage) -> None:
    words = sheet_words(page)
    assert len(words["bench"]["arms"]) == 4
    assert [arm["corner"] for arm in words["bench"]["arms"]] == [
        "upper_left",
        "upper_right",
        "lower_left",
        "lower_right",
    ]
    positions = [row for group in words["bench"]["positions"] for row in group["table"]["rows"]]
    assert len(positions) >= 18
    assert all(row[0] == {"tick": ""} for row in positions)
    assert len(words["field"]["speeds"]["rows"]) == 5
    assert len(words["field"]["failsafe"]["rows"]) == 4
    assert page.plan_hash[:12] in words["ids"]
    assert DATE in words["ids"]
    assert "PROPELLER OFF" in words["bench"]["cautions"][0]


@pytest.mark.invariant
def test_left_and_right_arms_are_drawn_mirrored(page: SheetPage) -> None:
    left, right = page.arms[0], page.arms[1]
    assert left.model_dump(exclude={"corner"}) == right.model_dump(exclude={"corner"})

    def horizontals(svg: str) -> list[float]:
        return [float(x) for d in re.findall(r' d="M([^"Z]*)Z?"', svg) for x in d.split()[::2]]

    one, two = horizontals(arm_svg(left)), horizontals(arm_svg(right))
    assert len(one) == len(two) > 20
    assert one == pytest.approx([300.0 - x for x in two], abs=0.02)


@pytest.mark.parametrize("paper", ["a4", "letter"])
def test_pdf_is_two_pages_tagged_and_the_same_again(page: SheetPage, paper: Any) -> None:
    pdf = sheet_pdf(page, paper=paper)
    assert pdf.startswith(b"%PDF-")
    assert pdf == sheet_pdf(page, paper=paper)
    assert pdf_pages(pdf) == 2
    assert b"MarkInfo" in pdf
    assert b"pdfuaid" in pdf
    assert b"/ToUnicode" in pdf  # text can be taken out again
    size = re.search(rb"/MediaBox\s*\[\s*0\s+0\s+([0-9.]+)\s+([0-9.]+)", pdf)
    assert size is not None
    wanted = (595.28, 841.89) if paper == "a4" else (612.0, 792.0)
    assert tuple(map(float, size.groups())) == pytest.approx(wanted, abs=0.5)


def test_wrong_paper_is_refused(page: SheetPage) -> None:
    with pytest.raises(InputError, match="a4, letter"):
        sheet_pdf(page, paper="a5")  # type: ignore[arg-type]


@pytest.mark.outside
@pytest.mark.parametrize("name", [NASTY, "[" * 60, "\u202e\u0000x", "名前 🛩", "x" * 400])
def test_names_are_never_markup(page: SheetPage, name: str) -> None:
    odd = renamed(page, name)
    assert sheet_pdf(odd).startswith(b"%PDF-")
    made = sheet_html(odd)
    assert "<script>alert" not in made
    assert made.count("<script>") == 1


def test_many_phases_flow_on_instead_of_being_cut(page: SheetPage) -> None:
    more = page.rig.model_copy(update={"phases": page.rig.phases * 14})
    assert pdf_pages(sheet_pdf(page.model_copy(update={"rig": more}))) == 3


class _Parser(HTMLParser):
    """Collects what a page asks for from outside, and whether its elements close."""

    def __init__(self) -> None:
        super().__init__()
        self.asked: list[str] = []
        self.open: list[str] = []
        self.inputs = 0

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.inputs += tag == "input"
        for name, value in attrs:
            if name in ("src", "href", "action", "data", "poster") and value and not value.startswith("#"):
                self.asked.append(value)
        if tag not in ("meta", "input", "br"):
            self.open.append(tag)

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        pass

    def handle_endtag(self, tag: str) -> None:
        assert self.open.pop() == tag


def test_html_is_one_small_file_that_asks_for_nothing(page: SheetPage) -> None:
    made = sheet_html(page)
    assert made == sheet_html(page)
    assert len(made.encode()) < 60_000
    parser = _Parser()
    parser.feed(made)
    assert parser.asked == []
    assert parser.open == []
    assert parser.inputs > 100
    assert "url(" not in made
    assert "@import" not in made
    for said in ("PROPELLER OFF", "Vertical down", "enter above", page.plane_hash[:12], DATE):
        assert said in made


def test_date_is_that_of_the_environment_else_of_the_plan(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("SOURCE_DATE_EPOCH", "86400")
    assert sheet_date(None).isoformat() == "1970-01-02"
    monkeypatch.setenv("SOURCE_DATE_EPOCH", "tomorrow")
    with pytest.raises(InputError, match="whole seconds"):
        sheet_date(None)
    monkeypatch.delenv("SOURCE_DATE_EPOCH")
    file = tmp_path / "x"
    file.write_text("")
    import os

    os.utime(file, (0, 0))
    assert sheet_date(file).isoformat() == "1970-01-01"


def test_files_are_kept_unless_forced(page: SheetPage, tmp_path: Path) -> None:
    for name in ("a.pdf", "a.html"):
        write_sheet(page, tmp_path / name)
        with pytest.raises(EditedFileError, match="--force"):
            write_sheet(page, tmp_path / name)
        write_sheet(page, tmp_path / name, force=True)
    (tmp_path / "b.pdf").write_bytes(b"%PDF-1.7 my own")
    with pytest.raises(EditedFileError, match="no sheet of ours"):
        write_sheet(page, tmp_path / "b.pdf", force=True)
    with pytest.raises(InputError, match=r"\.pdf"):
        write_sheet(page, tmp_path / "c.txt")
    with pytest.raises(EditedFileError, match="no folder"):
        write_sheet(page, tmp_path / "d" / "c.pdf")
    assert sorted(path.name for path in tmp_path.iterdir()) == ["a.html", "a.pdf", "b.pdf"]


def test_made_from_files(tuned: Any, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("SOURCE_DATE_EPOCH", "1772323200")
    file = tmp_path / "x.plan.toml"
    plan = tuned("biplane_124").plan
    write_plan(plan, file)
    made = make_sheet(demo_path("biplane_124"), file)
    assert made.date == DATE
    assert made.plan == "x.plan.toml"
    assert made.settings.crow is not None
    assert load_plan(file, tuned("biplane_124").ready.file.plane).crow is not None
