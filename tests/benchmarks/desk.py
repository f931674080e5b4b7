"""The desk: from an edit to changed numbers, over the wire and beside the bare computation, on small and large plans.

`python -m tests.benchmarks.desk [SIDE ...]`: of each side, the median of 30 edits; then in Chromium, where there is one,
doors clicked, from the mouse's release to changed numbers, and the frames while the sheet is pulled.
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

from tests.browsing import CHROMIUM, chromium
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


# In the page: when the mouse is let go, when numbers change, how long each frame takes.
_WATCH = """async (text) => {
  const { desk, sheet } = await import('/desk.js');
  Object.assign(window, { desk, sheet, clicks: [], frames: [] });
  addEventListener('pointerup', () => { window.released = performance.now(); }, true);
  desk.on('counts', () => { if (window.released) { clicks.push(performance.now() - window.released); window.released = 0; } });
  const tick = (last) => requestAnimationFrame((now) => { frames.push(now - last); tick(now); });
  tick(performance.now());
  await desk.open(text);
  await desk.settled();
}"""
_WALLS = """() => {
  const found = [], box = document.getElementById('sheet').getBoundingClientRect();
  desk.tiles.doors.across.forEach((row, r) => [...row].forEach((sign, c) => {
    const [x, y] = sheet.screen(c + 0.5, r);
    if (sign === 'w' && x > box.left + 80 && x < box.right - 80 && y > box.top + 120 && y < box.bottom - 160) found.push([x, y]);
  }));
  return found;
}"""


def in_browser(port: int, text: str, side: int) -> None:
    """Print what a user with a mouse waits for."""
    if CHROMIUM is None:
        return
    with chromium() as browser:
        page = browser.new_page(viewport={"width": 1280, "height": 800})
        page.goto(f"http://127.0.0.1:{port}/")
        page.wait_for_selector("html[data-ready=yes]", state="attached")
        page.evaluate(_WATCH, text)
        page.wait_for_timeout(4000)
        page.evaluate("frames.length = 0")
        page.mouse.move(500, 400)
        page.mouse.down(button="middle")
        for k in range(120):
            page.mouse.move(500 + 120 * ((k % 40) / 40 - 0.5), 400 + k / 2)
        page.mouse.up(button="middle")
        frames = sorted(page.evaluate("frames"))
        page.evaluate("sheet.fitToWindow(); sheet.zoom(40 / sheet.eye.scale)")
        page.wait_for_timeout(1000)
        for _ in range(_TIMES):
            page.mouse.click(*random.Random(side).choice(page.evaluate(_WALLS)))
            page.wait_for_selector("html[data-pending='0']", state="attached")
            page.wait_for_timeout(600)
        clicks = page.evaluate("clicks")
        late = frames[int(0.95 * len(frames))]
        print(
            f"  in Chromium: {len(clicks)} doors, numbers change after {statistics.median(clicks):.0f} ms; "
            f"{len(frames)} frames, median {statistics.median(frames):.1f} ms, 95th percentile {late:.1f} ms"
        )


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
        in_browser(port, text, side)
    server.should_exit = True


if __name__ == "__main__":
    main([int(word) for word in sys.argv[1:]] or [40, 150])
