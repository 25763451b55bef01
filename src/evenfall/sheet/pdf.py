"""The sheet as a PDF of two pages, A4 or Letter: tagged, reproducible, names as data and never as markup."""

from __future__ import annotations

import datetime as dt
import json
import unicodedata
from collections.abc import Callable
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
TEMPLATE = Path(__file__).parents[1] / "data" / "sheet" / "sheet.typ"


def sheet_pdf(page: SheetPage, *, paper: Paper = "a4") -> bytes:
    """The sheet as PDF/UA-1; equal pages give equal bytes, dated by the page's date.

    Letters that the sheet's own font lacks are taken from the machine's fonts; where these lack them too, from nowhere:
    a question mark stands for each.
    """
    if paper not in PAPERS:
        raise InputError(f"paper {paper!r} is none of {', '.join(PAPERS)}")
    words = json.dumps(_printable(sheet_words(page), _is_control), ensure_ascii=False, allow_nan=False)
    made, fault = _compile(words, _TYPST[paper], page.date, system_fonts=False)
    if made is None:
        made, fault = _compile(words, _TYPST[paper], page.date, system_fonts=True)
    if made is None:
        words = json.dumps(_printable(sheet_words(page), _is_rare), ensure_ascii=False, allow_nan=False)
        made, fault = _compile(words, _TYPST[paper], page.date, system_fonts=False)
    if made is None:
        raise EvenfallError(f"the sheet could not be laid out: {fault}")
    return made


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


def _compile(words: str, paper: str, date: str, *, system_fonts: bool) -> tuple[bytes | None, str]:
    import typst

    noon = dt.datetime.combine(dt.date.fromisoformat(date), dt.time(12), dt.UTC)
    try:
        made: bytes = _compiler(system_fonts).compile(
            format="pdf",
            sys_inputs={"page": words, "paper": paper},
            pdf_standards=["ua-1"],
            timestamp=int(noon.timestamp()),
        )
    except typst.TypstError as error:
        return None, str(error)
    return made, ""


@cache
def _compiler(system_fonts: bool) -> Any:
    """One compiler a process; it reads the template's folder only."""
    import typst

    return typst.Compiler(input=str(TEMPLATE), root=str(TEMPLATE.parent), ignore_system_fonts=not system_fonts)
