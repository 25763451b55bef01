"""The contest card as one HTML file for a phone in the sun: black on white, nothing from outside, no script."""

from __future__ import annotations

import os
import re
from itertools import groupby
from pathlib import Path

from evenfall.errors import InputError
from evenfall.sheet.paper import FONT
from evenfall.sheet.record_page import CardPage
from evenfall.sheet.sheet_file import check_sheet
from evenfall.sheet.sheet_words import print_signs
from evenfall.sheet.svg import escape
from evenfall.textfile import write_atomic

_UNIT = re.compile(r"(?<=[0-9]) (?=(?:%|m/s|kg/m|deg/s|hPa|°C|m|s)(?![A-Za-z]))")
POLICY = "default-src 'none'; style-src 'unsafe-inline'; base-uri 'none'; form-action 'none'"
"""Content-security policy of the page: its own style and nothing else."""

_STYLE = (
    "*{box-sizing:border-box}:root{color-scheme:light}"
    f"body{{margin:0 auto;max-width:640px;padding:12px 14px 40px;font:20px/1.35 {FONT};"
    "font-variant-numeric:tabular-nums;background:#fff;color:#000;overflow-wrap:anywhere}"
    "h1{font-size:26px;margin:0;line-height:1.15}h2{font-size:20px;margin:22px 0 4px;border-bottom:3px solid}"
    "h3{font-size:18px;margin:12px 0 0}p{margin:6px 0}.id{font-size:17px;color:#333}"
    ".change{border:3px solid;padding:2px 10px;margin:10px 0}.change p:first-child{font-size:23px;font-weight:700}"
    ".id span{white-space:nowrap}"
    "label{display:flex;gap:12px;align-items:center;min-height:56px;padding:4px 0;border-top:1px solid #777}"
    "input{flex:none;width:34px;height:34px;margin:4px;accent-color:#000}"
    "label b,label span{display:block}label b{font-size:17px;font-weight:400;color:#333}label span{font-weight:600}"
    "ul{padding:0;margin:0;list-style:none}li{padding:5px 0;border-top:1px solid #777}"
    ".warn li{border-left:6px solid #8a3a00;border-top:0;padding-left:10px;margin:8px 0}"
    ":focus-visible{outline:3px solid #00565e;outline-offset:2px}"
)


def card_html(page: CardPage) -> str:
    """The card as a self-contained page; equal cards give equal text."""
    title = f"Card: {page.plane}"
    what, _, why = page.change.removesuffix(".").partition(". ")
    why = f"{why}." if why else ""
    checks = []
    for phase, rows in groupby(page.checks, key=lambda row: row.phase):
        ticks = "".join(
            f'<label><input type="checkbox"><div><b>{_words(row.do)}</b><span>{_words(row.see)}</span></div></label>'
            for row in rows
        )
        checks.append(f"<h3>Phase {escape(phase)}</h3>{ticks}")
    return (
        f'<!doctype html>\n<html lang="en" data-plan="{escape(page.plan_hash)}">\n<head>\n<meta charset="utf-8">\n'
        f'<meta http-equiv="Content-Security-Policy" content="{POLICY}">\n'
        '<meta name="viewport" content="width=device-width,initial-scale=1">\n'
        '<meta name="generator" content="Evenfall">\n'
        f"<title>{escape(title)}</title>\n<style>{_STYLE}</style>\n</head>\n<body>\n"
        f"<header><h1>{escape(page.plane)}</h1>"
        f'<p class="id">{escape(page.plan)}<br>{escape(page.plan_hash)} · <span>{escape(page.date)}</span><br>'
        f"{escape(page.state)}</p></header>\n<main>"
        f'<div class="change"><p>{_words(what)}.</p>{f"<p>{_words(why)}</p>" if why else ""}</div>'
        f"<section><h2>Half a minute of surfaces</h2>{''.join(checks)}</section>"
        f"<section><h2>Today</h2><p>{_words(page.air)}</p>{_list(page.speeds)}</section>"
        f'<section class="warn"><h2>Take care</h2>{_list(page.cautions)}</section></main>\n</body>\n</html>\n'
    )


def _list(rows: tuple[str, ...]) -> str:
    return f"<ul>{''.join(f'<li>{_words(words)}</li>' for words in rows)}</ul>"


def _words(words: str) -> str:
    """Words with every number on one line with its unit and its spread."""
    kept = _UNIT.sub("\u00a0", print_signs(words)).replace(" ± ", "\u00a0±\u00a0").replace(" ±", "\u00a0±")
    return escape(kept)


def check_card(path: str | os.PathLike[str], *, force: bool = False) -> None:
    """Raise where a card may not be written, before a long computation rather than after it."""
    if Path(path).suffix.lower() != ".html":
        raise InputError(f"{path} must end in .html; a phone reads it")
    check_sheet(path, force=force)


def write_card(page: CardPage, path: str | os.PathLike[str], *, force: bool = False) -> None:
    """Write a card, checked as by `check_card`, whole or not at all; `InputError` where the disk refuses."""
    check_card(path, force=force)
    try:
        write_atomic(path, card_html(page))
    except OSError as error:
        raise InputError(f"{path}: cannot be written: {error.strerror or error}") from None
