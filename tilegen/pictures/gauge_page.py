"""The pages that go with test pieces: how to make them, what to measure, a table for the readings."""

from __future__ import annotations

import base64
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from html import escape

import numpy as np

from tilegen.files.stock import BEFORE_ALL
from tilegen.pictures.report import STYLE
from tilegen.pictures.solid_view import solid_png
from tilegen.solids.build import Mesh
from tilegen.solids.formats import Item
from tilegen.solids.gauge import GaugePiece
from tilegen.version import __version__

_BED_PICTURE, _PICTURE = (960, 600), (280, 150)


@dataclass(frozen=True)
class GaugePage:
    """What the page is made from. readings: what each is, least and most in mm, by name. record: the command for it."""

    title: str
    pieces: Sequence[GaugePiece]
    meshes: Sequence[Mesh]
    items: Sequence[Item]
    steps: Sequence[str]
    readings: Mapping[str, tuple[str, float, float]]
    record: str
    cautions: Sequence[str]


def gauge_page(page: GaugePage) -> str:
    """The page as HTML, pictures inside; no script, nothing fetched."""
    body = [
        f"<h1>Test pieces: {escape(page.title)}</h1>",
        _cautions(page.cautions),
        f"<section><h2>Print</h2><ol>{_listed(page.steps)}</ol>"
        f"<figure>{_image(_bed(page), 'the bed with all test pieces', 'wide')}</figure></section>",
        f"<section><h2>Measure</h2>{_pieces(page)}</section>",
        f"<section><h2>Record</h2>{_form(page)}</section>",
        f"<footer>Made by tilegen {__version__}.</footer>",
    ]
    return (
        f'<!doctype html>\n<html lang="en">\n<head>\n<meta charset="utf-8">\n<title>Test pieces</title>\n'
        f'<meta name="viewport" content="width=device-width, initial-scale=1">\n<style>{STYLE}</style>\n</head>\n'
        f"<body>\n<main>\n{chr(10).join(body)}\n</main>\n</body>\n</html>\n"
    )


def cut_gauge_page(title: str, svg: bytes, steps: Sequence[str], cautions: Sequence[str]) -> str:
    """The page of test pieces to cut, as HTML, with their drawing inside."""
    data = base64.b64encode(svg).decode()
    return (
        f'<!doctype html>\n<html lang="en"><head><meta charset="utf-8"><title>{escape(title)}</title>'
        f"<style>{STYLE}</style></head><body><main><h1>{escape(title)}</h1>{_cautions(cautions)}"
        f"<section><h2>What to do</h2><ol>{_listed(steps)}</ol></section>"
        f'<figure><img class="wide" alt="test pieces" src="data:image/svg+xml;base64,{data}"></figure>'
        "</main></body></html>\n"
    )


def _cautions(lines: Sequence[str]) -> str:
    return f"<section class='cautions'><h2>Before you begin</h2><p>{BEFORE_ALL}</p><ul>{_listed(lines)}</ul></section>"


def _listed(lines: Sequence[str]) -> str:
    return "".join(f"<li>{escape(line)}</li>" for line in lines)


def _pieces(page: GaugePage) -> str:
    rows = []
    for piece, mesh in zip(page.pieces, page.meshes, strict=True):
        picture = solid_png(mesh.vertices, mesh.triangles, size=_PICTURE, eye="south-east", compass=False)
        rows.append(
            f"<tr><td style='width:17rem'>{_image(picture, piece.name)}</td><td><b>{escape(piece.name)}</b>"
            f"<br>{escape(piece.use)}</td></tr>"
        )
    return f"<table><tbody>{''.join(rows)}</tbody></table>"


def _form(page: GaugePage) -> str:
    rows = "".join(
        f"<tr><td><code>{escape(name)}</code></td><td>{escape(words)}</td><td>{least:g} to {most:g}</td><td></td></tr>"
        for name, (words, least, most) in page.readings.items()
    )
    return (
        "<p>Write down what you find, in millimetres; leave out what you did not try. Several readings of one piece, "
        "parted by commas, count by their mean.</p><table><thead><tr><th>reading</th><th>of what</th><th>accepted, mm"
        f"</th><th>yours</th></tr></thead><tbody>{rows}</tbody></table><p>Then keep them in a printer file of your own:"
        f"</p><p><code>{escape(page.record)}</code></p>"
    )


def _bed(page: GaugePage) -> bytes:
    """All pieces as they lie on the bed."""
    by_name = {mesh.name: mesh for mesh in page.meshes}
    points, faces, count = [], [], 0
    for item in page.items:
        mesh = by_name[item.name]
        points.append(mesh.vertices + np.array((item.x, item.y, 0.0)))
        faces.append(mesh.triangles.astype(np.int64) + count)
        count += len(mesh.vertices)
    return solid_png(np.concatenate(points), np.concatenate(faces), size=_BED_PICTURE, eye="south-east", compass=False)


def _image(png: bytes, words: str, kind: str = "") -> str:
    data = base64.b64encode(png).decode()
    shape = f" class='{kind}'" if kind else ""
    return f"<img{shape} alt='{escape(words)}' src='data:image/png;base64,{data}'>"
