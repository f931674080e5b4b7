"""Small pieces of the report's HTML."""

from __future__ import annotations

import base64
import re
from collections.abc import Iterable, Mapping, Sequence
from html import escape

from tilegen.lengths import Units, in_units


def section(heading: str, content: str) -> str:
    """A heading and what stands under it, HTML already."""
    return f"<section>\n<h2>{escape(heading)}</h2>\n{content}\n</section>"


def figure(svg: bytes, words: str) -> str:
    """A wide picture inside the page, with words for those who don't see it."""
    data = base64.b64encode(svg).decode()
    return f'<figure><img class="wide" alt="{escape(words)}" src="data:image/svg+xml;base64,{data}"></figure>'


def listed(items: Iterable[str], kind: str = "ul") -> str:
    """Plain texts as a list; kind "ol" numbers them."""
    return f"<{kind}>" + "".join(f"<li>{escape(item)}</li>" for item in items) + f"</{kind}>"


def table(headings: Sequence[str], rows: Iterable[Sequence[str]]) -> str:
    """Rows of cells that are HTML already."""
    head = "".join(f'<th scope="col">{escape(text)}</th>' for text in headings)
    body = "".join("<tr>" + "".join(f"<td>{cell}</td>" for cell in row) + "</tr>\n" for row in rows)
    return f"<table><thead><tr>{head}</tr></thead><tbody>\n{body}</tbody></table>"


def inline_picture(svg: str, words: str) -> str:
    """A small picture inside the page; words: escaped already."""
    data = base64.b64encode(svg.encode()).decode()
    return f'<img alt="{words}" src="data:image/svg+xml;base64,{data}">'


def numbered(numbers: Mapping[str, str], key: str) -> str:
    """The layout's number of a type before its name."""
    return f"{escape(numbers[key])}&ensp;" if key in numbers else ""


def shown_in(markup: str, units: Units) -> str:
    """A part of a page whose text speaks of millimetres, in the reader's unit; attributes stay as they are."""
    return re.sub(r">([^<]+)<", lambda text: f">{in_units(text[1], units)}<", markup)
