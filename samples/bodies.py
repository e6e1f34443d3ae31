"""What stands in a confirmation's mail: its text and HTML bodies in the layouts that makers use."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from html import escape

from world import Confirmation

Rows = Sequence[tuple[str, str]]


def _lines(rows: Rows) -> str:
    return "\n".join(f"{label}: {value}" for label, value in rows)


def _spaced(rows: Rows) -> str:
    return "\n".join(f"{label} : {value}" for label, value in rows)


def _aligned(rows: Rows) -> str:
    width = max(len(label) for label, _ in rows) + 4
    return "\n".join(f"{label:<{width}}{value}" for label, value in rows)


def _dotted(rows: Rows) -> str:
    width = max(len(label) for label, _ in rows) + 6
    return "\n".join(f"{label + ' ':.<{width}} {value}" for label, value in rows)


def _under(rows: Rows) -> str:
    return "\n\n".join(f"{label}\n{value}" for label, value in rows)


def _tabbed(rows: Rows) -> str:
    return "\n".join(f"{label}:\t{value}" for label, value in rows)


def _starred(rows: Rows) -> str:
    return "\n".join(f"  * {label}: {value}" for label, value in rows)


def _right(rows: Rows) -> str:
    return "\n".join(f"{label}{value:>{70 - len(label)}}" for label, value in rows)


_TEXT: dict[str, Callable[[Rows], str]] = {
    "lines": _lines,
    "spaced": _spaced,
    "aligned": _aligned,
    "dotted": _dotted,
    "under": _under,
    "tabbed": _tabbed,
    "starred": _starred,
    "right": _right,
}


def letter(confirmation: Confirmation, layout: str = "lines") -> str:
    """Return the maker's letter as text; the layout ``attached`` names no value and points to a PDF."""
    maker = confirmation.machine.maker
    facts = [_TEXT[layout](confirmation.rows)] if layout != "attached" else []
    say = confirmation.say
    opening = say("attached" if layout == "attached" else "opening")
    return (
        "\n\n".join([say("greeting"), opening, *facts, say("closing"), f"{maker.sender[0]}\n{maker.sender[1]}"]) + "\n"
    )


def _table(rows: Rows) -> str:
    cells = "".join(f"<tr><td>{escape(label)}</td><td><b>{escape(value)}</b></td></tr>\n" for label, value in rows)
    return f'<table border="0" cellpadding="4">\n{cells}</table>'


def _nested(rows: Rows) -> str:
    """A table for the page, one for the column, one for each row: how builders of newsletters do it."""
    inner = "".join(
        '<tr><td><table width="100%" cellspacing="0"><tr>'
        f'<td width="40%" style="color:#777"><span>{escape(label)}</span></td>'
        f'<td width="60%"><span>{escape(value)}</span></td></tr></table></td></tr>\n'
        for label, value in rows
    )
    return (
        '<table width="600" align="center"><tr><td><table width="100%"><tr><td>&nbsp;</td></tr></table></td></tr>\n'
        f'<tr><td><table width="100%" cellpadding="0">\n{inner}</table></td></tr></table>'
    )


def _divs(rows: Rows) -> str:
    return "".join(f"<div><strong>{escape(label)}:</strong> {escape(value)}</div>\n" for label, value in rows)


def _breaks(rows: Rows) -> str:
    return "<p>" + "<br>\n".join(f"{escape(label)}: <i>{escape(value)}</i>" for label, value in rows) + "</p>"


def _stacked(rows: Rows) -> str:
    """The label in a row of its own, the value in the next."""
    cells = "".join(
        f'<tr><th align="left">{escape(label)}</th></tr><tr><td>{escape(value)}</td></tr>\n' for label, value in rows
    )
    return f"<table>\n{cells}</table>"


def _head_row(rows: Rows) -> str:
    """Tables of three columns: a row of labels, a row of values."""
    out = ""
    for start in range(0, len(rows), 3):
        part = rows[start : start + 3]
        heads = "".join(f"<th>{escape(label)}</th>" for label, _ in part)
        cells = "".join(f"<td>{escape(value)}</td>" for _, value in part)
        out += f'<table border="1"><tr>{heads}</tr><tr>{cells}</tr></table>\n'
    return out


_HTML: dict[str, Callable[[Rows], str]] = {
    "table": _table,
    "nested": _nested,
    "divs": _divs,
    "breaks": _breaks,
    "stacked": _stacked,
    "head-row": _head_row,
}

_STYLE = "<style>body{font-family:sans-serif} .pre{display:none}</style>"


def letter_html(confirmation: Confirmation, layout: str = "table", logo: str = "") -> str:
    """Return the inside of the maker's letter as HTML (no html or body tags)."""
    say, maker = confirmation.say, confirmation.machine.maker
    picture = f'<img src="cid:{logo}" width="120" alt="{maker.name}">' if logo else ""
    opening = say("attached" if layout == "attached" else "opening")
    facts = _HTML[layout](confirmation.rows) if layout != "attached" else ""
    return (
        f"{picture}<p>{escape(say('greeting'))}</p>\n<p>{escape(opening)}</p>\n{facts}\n"
        f"<p>{escape(say('closing'))}</p>\n<p>{escape(maker.sender[0])}<br>{maker.sender[1]}</p>"
    )


def page(inside: str) -> str:
    """Return a whole HTML page around the inside of a body."""
    return (
        f'<!DOCTYPE html>\n<html><head><meta charset="utf-8">{_STYLE}<title></title></head>\n<body>\n{inside}\n'
        "</body></html>\n"
    )
