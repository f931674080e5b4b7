"""Setting out for machines that follow any line: odd parts closely packed, rectangles beside them and after them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from math import fsum

from tilegen.errors import AnswerIsNo
from tilegen.geometry import ROUNDING_MM
from tilegen.sheets.odd import Shape, can_nest_odd, nest_odd, used_length
from tilegen.sheets.rects import Item
from tilegen.sheets.stocking import Blank, Laid, Rules, nest_on_stock

# The name of the strip that the odd parts leave free on their last sheet.
_REST = "rest of the sheet with odd parts"
WITHOUT = (
    "parts of odd outline are set out as the rectangles around them; with the extra package spyrrow installed "
    "(pip install 'tilegen[nest]') they lie closer"
)

# Packing by outlines takes minutes for more parts than this (measured on folded card).
MOST_PACKED = 150
TOO_MANY = (
    f"more than {MOST_PACKED} parts of odd outline: they are set out as the rectangles around them, since packing them "
    "closer would take minutes"
)


def nest_mixed(
    items: Sequence[Item], shapes: Sequence[Shape], odd: Sequence[int], blanks: Sequence[Blank], rules: Rules
) -> tuple[tuple[Laid, ...], tuple[str, ...]]:
    """The better of two ways: every part as its box, or the odd ones packed by their outlines; with notes.

    odd: numbers of the odd parts. Fewer sheets win, then the shorter used length of the last.

    Raises:
        InputError: a part larger than any piece of stock.
        AnswerIsNo: the stock does not suffice either way.
    """
    if not odd or not can_nest_odd():
        return nest_on_stock(items, blanks, rules), (WITHOUT,) if odd else ()
    if sum(items[number].number for number in odd) > MOST_PACKED:
        return nest_on_stock(items, blanks, rules), (TOO_MANY,)
    try:
        boxes = nest_on_stock(items, blanks, rules)
    except AnswerIsNo:
        closely = _closely(items, shapes, odd, blanks, rules)
        if closely is None:
            raise
        return closely, ()
    closely = _closely(items, shapes, odd, blanks, rules)
    if closely is not None and _used(closely, shapes, rules) < _used(boxes, shapes, rules):
        return closely, ()
    return boxes, ()


def _closely(
    items: Sequence[Item], shapes: Sequence[Shape], odd: Sequence[int], blanks: Sequence[Blank], rules: Rules
) -> tuple[Laid, ...] | None:
    """Odd parts on sheets of the usual size, rectangles in what they leave; None: the stock does not suffice."""
    usual = next(b for b in blanks if not b.name)
    area = rules.area(usual)
    if any(not area.ways(items[n]) for n in odd):
        return None
    only = [s if n in odd else s._replace(number=0) for n, s in enumerate(shapes)]
    layouts, left = nest_odd(only, area, usual.count)
    if any(left):
        return None
    laid = [Laid(usual, layout, None) for layout in layouts]
    others = [item._replace(number=0) if n in odd else item for n, item in enumerate(items)]
    if not any(item.number for item in others):
        return tuple(laid)
    # The strip between the last odd part and the far margin, as a piece of stock with margins of its own.
    start = used_length(shapes, layouts[-1], area) + rules.spacing
    rest = Blank(usual.width - start, usual.height, 1, 0.0, _REST)
    stock = [replace(b, count=b.count - len(laid)) if b is usual and b.count is not None else b for b in blanks]
    if min(rules.area(rest).usable) > ROUNDING_MM:
        stock.append(rest)
    try:
        after = nest_on_stock(others, stock, rules)
    except AnswerIsNo:
        return None
    beside = [on for on in after if on.blank.name == _REST]
    for on in beside:
        moved = tuple(p._replace(x=p.x + start) for p in on.layout)
        laid[-1] = laid[-1]._replace(layout=(*laid[-1].layout, *moved))
    return (*laid, *(on for on in after if on.blank.name != _REST))


def _used(laid: Sequence[Laid], shapes: Sequence[Shape], rules: Rules) -> tuple[float, float]:
    """New sheets by area, and how far the last is used."""
    sheets = fsum(on.blank.width * on.blank.height for on in laid if not on.blank.name)
    return sheets, used_length(shapes, laid[-1].layout, rules.area(laid[-1].blank)) if laid else 0.0
