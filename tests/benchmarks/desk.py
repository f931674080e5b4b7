"""The desk: from an edit to changed numbers, over the wire and beside the bare computation, on small and large plans.

`python -m tests.benchmarks.desk [SIDE ...]`: of each side, the median of 30 edits. What a browser draws is not in it.
"""

import http.client
import json
import random
import statistics
import sys
import threading
import time
from typing import Any

import uvicorn

from tilegen.cli.desk import listen
from tilegen.desk.app import make_app
from tilegen.desk.document import document_of
from tilegen.desk.edits import apply_edits, read_edits
from tilegen.files.plans import plan_of
from tilegen.fit.figures import figures_on
from tilegen.plans.kit import make_kit

FIGURES = ["1 in", "2 in"]
_TIMES = 30
_LARGEST = 9


def dungeon(side: int, seed: int = 1) -> str:
    """A plan of side x side cells in rooms of 3 to 9 cells each way, half of whose neighbours are joined by a doorway."""
    choose = random.Random(seed)
    letters = iter([chr(code) for code in range(0x41, 0x4E00) if chr(code).isalpha()])
    rows = [["."] * side for _ in range(side)]
    y = 0
    while y < side:
        x, high = 0, choose.randint(3, _LARGEST)
        while x < side:
            wide, letter = choose.randint(3, _LARGEST), next(letters)
            for row in rows[y : y + high]:
                row[x : x + wide] = [letter] * len(row[x : x + wide])
            x += wide
        y += high
    ways, joined = [], set()
    for r in range(side - 1):
        for c in range(side - 1):
            for name, other in (("east", rows[r][c + 1]), ("south", rows[r + 1][c])):
                pair = rows[r][c], other
                if pair[0] != other and pair not in joined:
                    joined.add(pair)
                    if choose.random() < 1 / 2:
                        ways.append(f'[[way]]\ncell = [{c + 1}, {r + 1}]\nside = "{name}"\nkind = "doorway"\n')
    body = "\n".join(map(" ".join, rows))
    return f'name = "Load"\ndrawing = """\n{body}\n"""\n\n' + "\n".join(ways)


class Page:
    """A page without a browser: one connection that is kept."""

    def __init__(self, port: int) -> None:
        self.to = http.client.HTTPConnection("127.0.0.1", port)
        self.origin = f"http://127.0.0.1:{port}"
        self.n = self.at = self.have = 0
        self.bytes = 0
        self.at = self.ask("/begin")["at"]

    def ask(self, path: str, **more: Any) -> dict[str, Any]:
        """One request."""
        body = json.dumps({"seat": "load", "at": self.at, **more})
        self.to.request("POST", path, body, {"content-type": "application/json", "origin": self.origin})
        content = self.to.getresponse().read()
        self.bytes += len(content)
        found: dict[str, Any] = json.loads(content)
        return found

    def change(self, path: str, **more: Any) -> tuple[float, float]:
        """Something drawn: ms to the first answer, and to the second one."""
        began = time.perf_counter()
        self.n += 1
        found = self.ask(path, n=self.n, **more)
        first, self.at = time.perf_counter() - began, found["at"]
        self.ask("/look", figures=FIGURES, have=self.have)
        self.have = self.at
        return first * 1000, (time.perf_counter() - began) * 1000


def random_edits(side: int, seed: int) -> dict[str, Any]:
    """What somebody draws: squares taken away, doors, titles."""
    choose = random.Random(seed)
    cell = [choose.randint(2, side - 1), choose.randint(2, side - 1)]
    return choose.choice(
        [
            {"do": "paint", "cells": [cell], "room": "."},
            {"do": "way-away", "index": choose.randint(0, 5)},
            {"do": "title", "room": "A", "title": f"Hall {seed}"},
        ]
    )


def bare(text: str, edit: dict[str, Any]) -> float:
    """The same computed once and told to nobody, ms."""
    document = document_of(text)
    began = time.perf_counter()
    drawing = plan_of(apply_edits(document, read_edits([edit])).document.data, "")
    make_kit(drawing)
    figures_on(drawing, [25.4, 50.8])
    return (time.perf_counter() - began) * 1000


def main(sides: list[int]) -> None:
    """Print the medians."""
    listening = listen(0)
    listening.listen()
    port = listening.getsockname()[1]
    server = uvicorn.Server(uvicorn.Config(make_app(port), log_level="error"))
    threading.Thread(target=server.run, kwargs={"sockets": [listening]}, daemon=True).start()
    for side in sides:
        text = dungeon(side)
        page = Page(port)
        page.n = 10**6 * side
        page.change("/open", open=text)
        page.bytes = 0
        gestures = [random_edits(side, seed) for seed in range(_TIMES)]
        times = [page.change("/edit", gestures=[{"gesture": k + 1, "edits": [e]}]) for k, e in enumerate(gestures)]
        first, second = (statistics.median(column) for column in zip(*times, strict=True))
        alone = statistics.median(bare(text, edit) for edit in gestures[:_LARGEST])
        rooms = len(set(text.split('"""')[1].split()))
        print(
            f"{side} x {side}, {rooms} rooms, {text.count('[[way]]')} ways: first answer {first:.0f} ms, second "
            f"{second:.0f} ms; bare {alone:.0f} ms, ratio {second / alone:.2f}; {page.bytes / _TIMES / 1000:.0f} kB each"
        )
    server.should_exit = True


if __name__ == "__main__":
    main([int(word) for word in sys.argv[1:]] or [40, 150])
