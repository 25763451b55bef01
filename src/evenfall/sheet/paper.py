"""The look of a picture: paper, ink, one blue-green for the chosen plan, one burnt orange for warnings; light and dark.

Colours are written out twice instead of as variables, so that simple viewers show them too.
"""

from __future__ import annotations

LIGHT = {
    "paper": "#fbf8f1",
    "ink": "#1d1b18",
    "grey": "#55514a",
    "faint": "#8b857b",
    "plan": "#00565e",
    "warn": "#8a3a00",
}
"""Text colours have a contrast of 7 and more on the paper, `faint` 3 (lines only)."""
DARK = {
    "paper": "#171c22",
    "ink": "#ece8df",
    "grey": "#b9b4aa",
    "faint": "#7d7a74",
    "plan": "#6fd3d0",
    "warn": "#f3ab6b",
}

FONT = "system-ui,-apple-system,'Segoe UI',Roboto,'Liberation Sans',Arial,sans-serif"
SIZE, SIZE_NARROW = 16, 19
SMALL, SMALL_NARROW = 14, 16
"""Sizes of the text on a wide screen, and on a narrow one where the picture shrinks."""


def style() -> str:
    """The style sheet of a picture."""
    fixed = (
        f"svg{{width:100%;height:auto;max-width:680px;margin:0 auto;display:block}}"
        f"text{{font-family:{FONT};font-size:{SIZE}px;font-variant-numeric:tabular-nums}}"
        f".h{{font-size:20px;font-weight:600}}.b{{font-weight:600}}.s{{font-size:{SMALL}px}}"
        ".halo{paint-order:stroke;stroke-width:3px;stroke-linejoin:round}"
        "path,line{fill:none;stroke-linejoin:round;stroke-linecap:round}"
        ".line{stroke-width:1.3px}.wanted{stroke-width:3.4px}.edge{stroke-width:1.2px}.tick{stroke-width:1.2px}"
        ".grid{stroke-width:.6px;stroke-dasharray:1 5}.limit{stroke-width:1.2px;stroke-dasharray:7 5}"
        ".fold{stroke-width:1.4px}.hatch{stroke-width:1.5px}.spread{stroke-width:1.8px}"
        ".lead{stroke-width:1.2px}.out{fill-opacity:.13}.likely{fill-opacity:1}.doubt{fill-opacity:.35}"
        ".spread-fill{fill-opacity:.16}"
    )
    sizes = f"text{{font-size:{SIZE_NARROW}px}}.h{{font-size:22px}}.s{{font-size:{SMALL_NARROW}px}}"
    narrow = f"@media(max-width:480px){{{sizes}}}"
    return f"{fixed}{_colours(LIGHT)}@media(prefers-color-scheme:dark){{{_colours(DARK)}}}{narrow}"


def _colours(of: dict[str, str]) -> str:
    ink, grey, faint, paper, plan, warn = (of[key] for key in ("ink", "grey", "faint", "paper", "plan", "warn"))
    return (
        f"svg{{background:{paper}}}.paper{{fill:{paper}}}text{{fill:{ink}}}.halo{{stroke:{paper};stroke-opacity:.6}}"
        f".g{{fill:{grey}}}.p{{fill:{plan}}}.w{{fill:{warn}}}"
        f".line{{stroke:{grey}}}.wanted,.edge,.tick{{stroke:{ink}}}.grid,.limit{{stroke:{faint}}}.mark{{fill:{ink}}}"
        f".fold,.hatch,.lead{{stroke:{warn}}}.lead.p{{stroke:{plan}}}.likely,.doubt{{fill:{warn}}}.out{{fill:{grey}}}"
        f".spread{{stroke:{plan}}}.spread-fill,.point{{fill:{plan}}}.point{{stroke:{paper};stroke-width:2px}}"
    )
