"""The sheet as one HTML file for a phone: nothing from outside, ticks and notes kept in the phone's own store."""

from __future__ import annotations

import base64
import hashlib
from collections.abc import Mapping, Sequence
from typing import Any

from evenfall.sheet import arm_drawing, programme_sheet, sheet_curves
from evenfall.sheet.paper import DARK, FONT, LIGHT
from evenfall.sheet.sheet_page import SheetPage
from evenfall.sheet.sheet_words import sheet_words
from evenfall.sheet.svg import escape

_PARTS = (
    ("speeds", "Speeds"),
    ("flights", "Flights"),
    ("failsafe", "Failsafe"),
    ("bench", "Bench"),
    ("radio", "Radio"),
)
"""Parts of the page in the order a pilot at the field wants them, with their words in the bar below."""

_SCRIPT = """'use strict';(()=>{const key='evenfall '+document.documentElement.dataset.plan;let kept={};
try{kept=JSON.parse(localStorage.getItem(key)||'{}')||{}}catch(e){kept={}}
const told=document.getElementById('kept');const fields=[...document.querySelectorAll('main input')];
const show=()=>{const n=fields.filter(f=>f.type==='checkbox'&&f.checked).length;
told.textContent=n+' of '+fields.filter(f=>f.type==='checkbox').length+' ticked'};
fields.forEach((f,i)=>{const id=f.type[0]+i;if(id in kept){if(f.type==='checkbox')f.checked=kept[id]===true;
else f.value=String(kept[id]).slice(0,40)}
f.addEventListener('input',()=>{kept[id]=f.type==='checkbox'?f.checked:f.value;
try{localStorage.setItem(key,JSON.stringify(kept));show()}
catch(e){told.textContent='not kept: this browser stores nothing'}})});
let sure=0;document.getElementById('clear').addEventListener('click',e=>{if(!sure){sure=1;
e.target.textContent='Tap again to clear all';return}sure=0;kept={};fields.forEach(f=>{f.checked=false;
if(f.type!=='checkbox')f.value=''});try{localStorage.removeItem(key)}catch(x){}
e.target.textContent='Clear ticks and notes';show()});show()})();"""

POLICY = (
    "default-src 'none'; style-src 'unsafe-inline'; script-src 'sha256-"
    + base64.b64encode(hashlib.sha256(_SCRIPT.encode()).digest()).decode()
    + "'; base-uri 'none'"
)
"""Content-security policy of the page: its own script and nothing else."""


def sheet_html(page: SheetPage) -> str:
    """The sheet as a self-contained HTML page; equal pages give equal text."""
    words = sheet_words(page, style=False)
    title = escape(f"Sheet: {page.plane}")
    parts = (*_PARTS, ("programme", "Figures")) if "programme" in words else _PARTS
    bar = "".join(f'<a href="#{anchor}">{label}</a>' for anchor, label in parts)
    six = ' class="six"' if len(parts) > len(_PARTS) else ""
    field, bench = words["field"], words["bench"]
    body = (_speeds(field), _flights(field), _failsafe(field), _bench(bench), _radio(bench), _programme(words))
    return (
        f'<!doctype html>\n<html lang="en" data-plan="{escape(page.plan_hash[:16])}">\n<head>\n<meta charset="utf-8">\n'
        f'<meta http-equiv="Content-Security-Policy" content="{POLICY}">\n'
        '<meta name="viewport" content="width=device-width,initial-scale=1">\n'
        f'<meta name="color-scheme" content="light dark">\n<title>{title}</title>\n<style>{_css()}</style>\n</head>\n'
        f"<body>\n<header>{_MARK}<div><h1>{escape(page.plane)}</h1>"
        f'<p class="ids">{escape(words["plan"])}<br>{escape(words["ids"])}</p></div></header>\n'
        f"<main>{_list(words['setting'], cls='setting')}{''.join(body)}</main>\n"
        '<footer><span id="kept" role="status"></span><button id="clear" type="button">Clear ticks and notes</button>'
        f'</footer>\n<nav aria-label="Parts"{six}>{bar}</nav>\n<script>{_SCRIPT}</script>\n</body>\n</html>\n'
    )


_MARK = (
    '<svg class="mark" viewBox="0 0 12 40" width="12" height="40" aria-hidden="true">'
    '<path d="M6 0V30" class="axis"/><path d="M2 29H10L6 40Z" class="dot"/></svg>'
)


def _section(anchor: str, title: str, body: str) -> str:
    return f'<section id="{anchor}"><h2>{escape(title)}</h2>{body}</section>'


def _speeds(field: Mapping[str, Any]) -> str:
    watch = "".join(f'<p class="warn">{escape(words)}</p>' for words in field["warnings"])
    body = (
        f"{watch}{_stack(field['speeds'])}<p>{escape(field['speed_note'])}</p>{field['curve']['svg']}"
        f"<h3>Rolls</h3>{_stack(field['rolls'])}"
    )
    return _section("speeds", "Speeds", body)


def _failsafe(field: Mapping[str, Any]) -> str:
    body = (
        f"{_stack(field['failsafe'])}<p>{escape(field['failsafe_note'])}</p>"
        f"<h3>Trim and landing</h3>{_list(field['trim'])}"
    )
    return _section("failsafe", "Failsafe", body)


def _flights(field: Mapping[str, Any]) -> str:
    rows = []
    for gate in field["gates"]:
        parts = f'<p class="fine">{escape(gate["parts"])}</p>' if gate["parts"] else ""
        enter = "on the ground" if gate["enter"] == "ground" else f"enter above {escape(gate['enter'])}"
        rows.append(
            f'<li><label class="gate"><input type="checkbox"><span><b>{escape(gate["number"])} '
            f"{escape(gate['name'])}</b><strong>{enter}</strong></span></label>"
            f"<p>{escape(gate['task'])}</p><p><b>Passed:</b> {escape(gate['passed'])}</p>"
            f'<p class="warn"><b>Else:</b> {escape(gate["abort"])}</p>{parts}</li>'
        )
    cautions = "".join(f'<p class="warn">{escape(words)}</p>' for words in field["cautions"])
    note = f'<p class="fine">{escape(field["gate_note"])}</p>'
    return _section("flights", "First flights", f"{cautions}<ol>{''.join(rows)}</ol>{note}")


def _bench(bench: Mapping[str, Any]) -> str:
    ticks = "".join(_tick(words) for words in bench["motor"])
    arms = "".join(arm["svg"] for arm in bench["arms"])
    parts = [
        "".join(f'<p class="warn">{escape(words)}</p>' for words in (*bench["cautions"], *bench["watch"])),
        f"<h3>Motor plugged in, propeller off</h3>{ticks}",
        f"<h3>Arms</h3>{arms}<p>{escape(bench['arm_note'])}</p>{_stack(bench['fitting'])}",
        f"<h3>Angles, motor unplugged</h3><p>{escape(bench['view'])}</p>",
    ]
    for group in bench["positions"]:
        parts.append(f"<h4>{escape(group['title'])}</h4><p>{escape(group['note'])}</p>{_positions(group['table'])}")
    parts.append(f"<p>{escape(bench['tolerance'])}</p>{_list(bench['notes'])}")
    return _section("bench", "Bench", "".join(parts))


def _radio(bench: Mapping[str, Any]) -> str:
    body = (
        f"<p>{escape(bench['radio'])}</p>{_stack(bench['settings'])}{bench['curve']['svg']}"
        f"<h3>Phases</h3>{_stack(bench['phases'])}"
    )
    return _section("radio", "Radio", body)


def _programme(words: Mapping[str, Any]) -> str:
    if "programme" not in words:
        return ""
    page = words["programme"]
    body = (
        f"{_list(page['lines'])}{page['picture']['svg']}<p>{escape(page['key'])}</p>"
        f"{_stack(_named(page['figures']))}<h3>To know</h3>{_list(page['notes'])}"
    )
    return _section("programme", "Programme", body)


def _named(table: Mapping[str, Any]) -> dict[str, Any]:
    """A table whose first two columns are one: number and name."""
    rows = [[f"{row[0]}  {row[1]}", *row[2:]] for row in table["rows"]]
    return {"head": table["head"][1:], "rows": rows, "align": table["align"][1:]}


def _list(rows: Sequence[str], *, cls: str = "plain") -> str:
    return f'<ul class="{cls}">{"".join(f"<li>{escape(words)}</li>" for words in rows)}</ul>' if rows else ""


def _tick(words: str) -> str:
    return f'<label class="tick"><input type="checkbox"><span>{escape(words)}</span></label>'


def _cell(cell: str | Mapping[str, str], label: str) -> str:
    if isinstance(cell, str):
        return escape(cell)
    if "tick" in cell:
        return f'<input type="checkbox" aria-label="{escape(label)}">'
    named = f' aria-label="{escape(label)}"' if label else ""
    return f'{escape(cell["write"])} <input inputmode="decimal" maxlength="12"{named}>'


def _stack(table: Mapping[str, Any]) -> str:
    """A table as one short list a row: narrow screens need no sideways scrolling."""
    rows = []
    for row in table["rows"]:
        said = []
        label = ""
        for words, cell in zip(table["head"][1:], row[1:], strict=True):
            label = words or label
            if not isinstance(cell, str) and "write" in cell:
                said.append(f"<label><i>{escape(label)}</i>{_cell(cell, '')}</label>")
            elif not isinstance(cell, str):
                tick = _cell(cell, f"{row[0]} {label}")
                said.append(f'<span class="tick">{said.pop() if said else ""}{tick}</span>')
            elif cell:
                said.append(f"<span><i>{escape(words)}</i> {escape(cell)}</span>")
        rows.append(f'<div class="row"><b>{escape(row[0])}</b>{"".join(said)}</div>')
    return "".join(rows)


def _positions(table: Mapping[str, Any]) -> str:
    """Positions of the sticks, one block each: a big tick, then every surface with room for what was read."""
    rows = []
    for row in table["rows"]:
        sticks, throttle = row[1], row[2]
        cells = []
        for words, cell in zip(table["head"][3:], row[3:], strict=True):
            if isinstance(cell, str):
                continue
            said = escape(words)
            cells.append(
                f'<label><i>{said}</i><b>{escape(cell["write"])}</b><input inputmode="decimal" maxlength="8"></label>'
            )
        within = row[table["head"].index("within")]
        rows.append(
            f'<fieldset><legend class="tick"><label class="tick"><input type="checkbox"><span>{escape(sticks)}'
            f"<small> throttle {escape(throttle)}, {escape(within)}</small></span></label></legend>"
            f'<div class="four">{"".join(cells)}</div></fieldset>'
        )
    return "".join(rows)


def _css() -> str:
    fixed = (
        "*{box-sizing:border-box}html{scroll-padding-top:8px}"
        f"body{{margin:0;font:20px/1.35 {FONT};font-variant-numeric:tabular-nums;padding-bottom:64px;"
        "background:var(--paper);color:var(--ink);overflow-wrap:anywhere}"
        "header{display:flex;gap:10px;padding:12px 14px 8px;border-bottom:2px solid}header .mark{flex:none}"
        "h1{font-size:24px;margin:0;line-height:1.15}.ids,.fine,small{font-size:14px;color:var(--grey);margin:4px 0}"
        "main{max-width:760px;margin:auto;padding:0 14px}h2{font-size:24px;border-bottom:2px solid;margin:28px 0 10px}"
        "h3{font-size:20px;margin:20px 0 6px}h4{margin:16px 0 4px}p{margin:8px 0}ul,ol{padding:0;list-style:none}"
        "li{margin:6px 0}ol>li{border-top:1px solid var(--faint);padding:4px 0 10px;margin:0}"
        ".warn{border-left:5px solid var(--warn);padding-left:10px}"
        ".tick,.gate{display:flex;gap:12px;align-items:center;min-height:48px;padding:4px 0}"
        ".gate b{display:block}.gate strong{font-size:26px}"
        "input[type=checkbox]{flex:none;width:32px;height:32px;margin:6px;accent-color:var(--plan)}"
        "input:not([type=checkbox]){font:inherit;width:100%;min-width:64px;min-height:46px;padding:4px 8px;"
        "border:1.5px solid var(--grey);border-radius:3px;background:transparent;color:inherit}"
        ".row{border-top:1px solid var(--faint);padding:8px 0;display:flex;flex-wrap:wrap;gap:2px 14px;"
        "align-items:center}"
        ".row>b{flex-basis:100%}.row>label{display:flex;gap:10px;align-items:center;margin-left:auto}"
        ".row>label>i{white-space:nowrap}.row input{max-width:130px}"
        "i{font-style:normal;color:var(--grey);font-size:16px}"
        "small{display:block}fieldset{border:0;border-top:1px solid var(--faint);margin:0;padding:0 0 10px;min-width:0}"
        "legend{padding:0;width:100%}"
        ".four{display:grid;grid-template-columns:1fr 1fr;gap:8px 12px}"
        ".four label{display:grid;grid-template-columns:1fr auto;align-items:baseline;column-gap:6px}"
        ".four input{grid-column:1/3}svg{display:block;width:100%;height:auto;margin:8px 0;color:var(--ink)}"
        "header svg{width:12px;margin:2px 0 0}.setting{margin:10px 0}"
        "nav{position:fixed;bottom:0;left:0;right:0;display:flex;background:var(--paper);border-top:2px solid}"
        "nav a{flex:1;text-align:center;padding:16px 2px;font-size:16px;color:var(--plan);font-weight:600;"
        "text-decoration:none;white-space:nowrap}nav.six a{font-size:14px}"
        "footer{max-width:760px;margin:24px auto;padding:0 14px;display:flex;"
        "gap:14px;align-items:center;justify-content:space-between}"
        "button{font:inherit;font-size:16px;min-height:48px;padding:4px 14px;border:1.5px solid;border-radius:3px;"
        "background:transparent;color:var(--warn)}:focus-visible{outline:3px solid var(--plan);outline-offset:2px}"
        "@media(min-width:700px){.four{grid-template-columns:repeat(5,1fr)}}"
        "@media print{nav,footer{display:none}}"
    )
    return f"{_colours(LIGHT)}@media(prefers-color-scheme:dark){{{_colours(DARK)}}}{fixed}{_drawn()}"


def _colours(of: Mapping[str, str]) -> str:
    return f":root{{{''.join(f'--{name}:{value};' for name, value in of.items())}}}"


def _drawn() -> str:
    """Style of the drawings: that of the paper in the ink of the screen, each rule kept to the drawings."""
    rules = []
    for rule in f"{arm_drawing.STYLE}{sheet_curves.STYLE}{programme_sheet.STYLE}".split("}"):
        if rule:
            names, _, what = rule.partition("{")
            scoped = ",".join(f"svg {name}" for name in names.split(","))
            ink = what.replace("#000", "currentColor").replace("#fff", "var(--paper)")
            rules.append(f"{scoped}{{{ink}}}")
    return "".join(dict.fromkeys(rules))
