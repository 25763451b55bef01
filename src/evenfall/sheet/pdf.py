"""The sheet as a PDF of two pages, three with a programme: tagged, reproducible, names as data, never as markup."""

from __future__ import annotations

import datetime as dt
import json
import re
import unicodedata
from collections.abc import Callable, Mapping
from functools import cache
from pathlib import Path
from typing import Any, Literal, get_args

from evenfall.errors import EvenfallError, InputError
from evenfall.sheet.sheet_page import SheetPage
from evenfall.sheet.sheet_words import sheet_words

Paper = Literal["a4", "letter"]
PAPERS: tuple[Paper, ...] = get_args(Paper)
_TYPST: dict[Paper, str] = {"a4": "a4", "letter": "us-letter"}
_OWN = "\u2013\u2018\u2019\u201c\u201d\u2026\u2192\u2212"
"""Signs beyond these that the font has."""
SMALLEST = 5.8
"""Smallest size of the text, pt."""
_STEP = 0.3
TEMPLATE = Path(__file__).parents[1] / "data" / "sheet" / "sheet.typ"


def sheet_pdf(page: SheetPage, *, paper: Paper = "a4") -> bytes:
    """The sheet as PDF/UA-1; equal pages give equal bytes, dated by the page's date.

    Letters that the sheet's own font lacks are taken from the machine's fonts; where these lack them too, from nowhere:
    a question mark stands for each.
    """
    if paper not in PAPERS:
        raise InputError(f"paper {paper!r} is none of {', '.join(PAPERS)}")
    words = _printable(sheet_words(page), _is_control)
    made, fault = _fitted(words, paper, page.date, system_fonts=False)
    if made is None:
        made, fault = _fitted(words, paper, page.date, system_fonts=True)
    if made is None:
        made, fault = _fitted(_printable(words, _is_rare), paper, page.date, system_fonts=False)
    if made is None:
        raise EvenfallError(f"the sheet could not be laid out: {fault}")
    return made


def sheet_pictures(page: SheetPage, *, paper: Paper = "a4") -> tuple[bytes, ...]:
    """The pages of the sheet as pictures (SVG), laid out as by `sheet_pdf`."""
    if paper not in PAPERS:
        raise InputError(f"paper {paper!r} is none of {', '.join(PAPERS)}")
    words = _printable(sheet_words(page), _is_rare)
    text = json.dumps(words, ensure_ascii=False, allow_nan=False)
    bench, field = usual_sizes(len(words["bench"]["arms"]), paper)
    while True:
        sizes = (max(bench, SMALLEST), max(field, SMALLEST))
        drawn = _drawn(text, _TYPST[paper], page.date, sizes)
        if len(drawn) <= _wanted_pages(words) or max(sizes) <= SMALLEST:
            return drawn
        bench, field = bench - _STEP, field - _STEP


def _fitted(words: Any, paper: Paper, date: str, *, system_fonts: bool) -> tuple[bytes | None, str]:
    """Laid out on its pages with the usual sizes of the text, or the next smaller ones at which it fits.

    Below the smallest size the rest flows on to further pages, so nothing is ever cut off.
    """
    text = json.dumps(words, ensure_ascii=False, allow_nan=False)
    bench, field = usual_sizes(len(words["bench"]["arms"]), paper)
    while True:
        sizes = (max(bench, SMALLEST), max(field, SMALLEST))
        made, fault = _compile(text, _TYPST[paper], date, sizes, system_fonts=system_fonts)
        if made is None or _pages(made) <= _wanted_pages(words) or max(sizes) <= SMALLEST:
            return made, fault
        bench, field = bench - _STEP, field - _STEP


def usual_sizes(arms: int, paper: Paper) -> tuple[float, float]:
    """Sizes of the text in pt to begin with, bench and field: fewer arms drawn leave more room."""
    larger = {0: 1.0, 1: 0.5, 2: 0.3}.get(arms, 0.0)
    return (7.2 + larger, 8.1) if paper == "a4" else (6.8 + larger, 7.8)


def _wanted_pages(words: Mapping[str, Any]) -> int:
    """Bench, field, and a programme where there is one."""
    return 3 if "programme" in words else 2


def _pages(pdf: bytes) -> int:
    """Pages of a PDF whose page objects lie open."""
    return len(re.findall(rb"/Type\s*/Page\b", pdf))


def _is_control(letter: str) -> bool:
    return unicodedata.category(letter)[0] == "C"


def _is_rare(letter: str) -> bool:
    """Beyond Latin, Greek and Cyrillic, and what the sheet itself prints."""
    return _is_control(letter) or (ord(letter) > 0x4FF and letter not in _OWN)


def _printable(found: Any, unfit: Callable[[str], bool]) -> Any:
    """The words with a question mark for every letter that cannot be set."""
    if isinstance(found, str):
        return "".join("?" if unfit(letter) else letter for letter in found)
    if isinstance(found, dict):
        return {key: _printable(value, unfit) for key, value in found.items()}
    return [_printable(item, unfit) for item in found]


def _compile(
    words: str, paper: str, date: str, sizes: tuple[float, float], *, system_fonts: bool
) -> tuple[bytes | None, str]:
    import typst

    try:
        made: bytes = _compiler(system_fonts).compile(
            format="pdf",
            sys_inputs=_inputs(words, paper, sizes),
            pdf_standards=["ua-1"],
            timestamp=_noon(date),
        )
    except typst.TypstError as error:
        return None, str(error)
    return made, ""


def _drawn(words: str, paper: str, date: str, sizes: tuple[float, float]) -> tuple[bytes, ...]:
    import typst

    try:
        made = _compiler(False).compile(format="svg", sys_inputs=_inputs(words, paper, sizes), timestamp=_noon(date))
    except typst.TypstError as error:
        raise EvenfallError(f"the sheet could not be laid out: {error}") from None
    return tuple(made) if isinstance(made, list) else (made,)


def _inputs(words: str, paper: str, sizes: tuple[float, float]) -> dict[str, str]:
    return {"page": words, "paper": paper, "bench": f"{sizes[0]:.2f}", "field": f"{sizes[1]:.2f}"}


def _noon(date: str) -> int:
    """Noon (UTC) of a day in seconds since 1970."""
    return int(dt.datetime.combine(dt.date.fromisoformat(date), dt.time(12), dt.UTC).timestamp())


@cache
def _compiler(system_fonts: bool) -> Any:
    """One compiler a process; it reads the template's folder only."""
    import typst

    return typst.Compiler(input=str(TEMPLATE), root=str(TEMPLATE.parent), ignore_system_fonts=not system_fonts)
