"""The page of causes for a terminal."""

from __future__ import annotations

import textwrap

from evenfall.sheet.diagnose_page import CausePage, DiagnosePage, SignPage
from evenfall.sheet.words import lower_first

WIDTH = 100


def sign_rows(signs: tuple[SignPage, ...]) -> list[str]:
    """The signs by group, to choose from."""
    width = max(len(one.key) for one in signs)
    rows: list[str] = []
    for group in dict.fromkeys(one.group for one in signs):
        rows += ["", group.capitalize()]
        rows += [f"  {one.key:<{width}}  {one.words}" for one in signs if one.group == group]
    return rows[1:]


def diagnose_rows(page: DiagnosePage, *, most: int = 6) -> list[str]:
    """What `why` prints: what to check first, then the likeliest causes with their checks.

    Args:
        most: causes in full; the rest in one line.
    """
    words = {one.key: one.words for one in page.all_signs}
    rows = [f"Why: {page.plane} - {page.plan}", ""]
    rows += [f"Seen: {words[key]}" for key in page.signs] or ["Seen: nothing was named; this is how often each is met"]
    rows += ["", *_wrapped("First: ", page.first), ""]
    for number, cause in enumerate(page.causes[:most], start=1):
        rows += _cause(number, cause)
    rest = page.causes[most:]
    if rest:
        told = "; ".join(f"{_percent(one.probability)} {lower_first(one.words)}" for one in rest)
        rows += [*_wrapped("Less likely: ", f"{told}."), ""]
    rows += _wrapped(
        "",
        f"{_percent(page.other)} that it is none of these: within the doubt of the prediction, or something else.",
    )
    return rows


def _cause(number: int, cause: CausePage) -> list[str]:
    lead = f"{number:>2}. {_percent(cause.probability):>4}  "
    indent = " " * len(lead)
    rows = textwrap.wrap(f"{cause.words}.", WIDTH, initial_indent=lead, subsequent_indent=indent)
    check = cause.check
    for name, words in (
        ("", cause.why),
        (f"Check ({check.minutes:.0f} min): ", check.words),
        ("If so: ", check.if_so),
        ("If not: ", check.if_not),
        ("Source: ", cause.source),
    ):
        rows += textwrap.wrap(f"{name}{words}", WIDTH, initial_indent=indent, subsequent_indent=indent)
    return [*rows, ""]


def _percent(share: float) -> str:
    return f"{100 * share:.0f} %"


def _wrapped(lead: str, words: str) -> list[str]:
    return textwrap.wrap(lead + words, WIDTH, subsequent_indent=" " * len(lead))
