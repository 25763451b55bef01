"""The sheet as a PDF of two pages, A4 or Letter: tagged, reproducible, names as data and never as markup."""

from __future__ import annotations

import datetime as dt
import json
from functools import cache
from pathlib import Path
from typing import Any, Literal, get_args

from evenfall.errors import EvenfallError, InputError
from evenfall.sheet.sheet_page import SheetPage
from evenfall.sheet.sheet_words import sheet_words

Paper = Literal["a4", "letter"]
PAPERS: tuple[Paper, ...] = get_args(Paper)
_TYPST: dict[Paper, str] = {"a4": "a4", "letter": "us-letter"}
TEMPLATE = Path(__file__).parents[1] / "data" / "sheet" / "sheet.typ"


def sheet_pdf(page: SheetPage, *, paper: Paper = "a4") -> bytes:
    """The sheet as PDF/UA-1; equal pages give equal bytes, dated by the page's date."""
    if paper not in PAPERS:
        raise InputError(f"paper {paper!r} is none of {', '.join(PAPERS)}")
    return _compile(json.dumps(sheet_words(page), ensure_ascii=False, allow_nan=False), _TYPST[paper], page.date)


def _compile(words: str, paper: str, date: str) -> bytes:
    import typst

    noon = dt.datetime.combine(dt.date.fromisoformat(date), dt.time(12), dt.UTC)
    try:
        made: bytes = _compiler().compile(
            format="pdf",
            sys_inputs={"page": words, "paper": paper},
            pdf_standards=["ua-1"],
            timestamp=int(noon.timestamp()),
        )
    except typst.TypstError as error:
        raise EvenfallError(f"the sheet could not be laid out: {error}") from None
    return made


@cache
def _compiler() -> Any:
    """One compiler a process; it reads the template's folder only and the fonts it brings itself."""
    import typst

    return typst.Compiler(input=str(TEMPLATE), root=str(TEMPLATE.parent), ignore_system_fonts=True)
