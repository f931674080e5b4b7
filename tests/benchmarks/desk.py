"""The desk: how long a change takes on a 40 x 40 plan in the browser, and a minute of fifty edits a second.

Needs the extra dev and a Chromium.
"""

import json
import random
import shutil
import statistics
import sys
import threading
import time

import uvicorn
from playwright.sync_api import Page, sync_playwright

from tilegen.cli.desk import listen
from tilegen.desk.app import make_app
from tilegen.desk.edits import apply_edits, read_edits
from tilegen.desk.view import open_text, view

FIGURES = ["1 in", "2 in"]
_PRESS = """async ([cells, every]) => {
  const map = document.getElementById('sheet'), box = map.getBoundingClientRect();
  const [x, y, w] = map.getAttribute('viewBox').split(' ').map(Number), cell = 63.5;
  const began = performance.now();
  for (let n = 0; n < cells.length; n += 1) {
    const [c, r] = cells[n];
    const at = { clientX: box.left + ((c - 0.5) * cell - x) * box.width / w, pointerId: 1, bubbles: true, button: 0,
      clientY: box.top + ((r - 0.5) * cell - y) * box.width / w };
    try { map.dispatchEvent(new PointerEvent('pointerdown', at)); } catch (error) {}
    map.dispatchEvent(new PointerEvent('pointerup', at));
    const wait = began + (n + 1) * every - performance.now();
    if (wait > 0) await new Promise((done) => setTimeout(done, wait));
  }
  return performance.now() - began;
}"""
_DRAFT = """() => fetch('/draft', { method: 'POST', headers: { 'content-type': 'application/json' },
    body: JSON.stringify({ text: '', seat: sessionStorage.getItem('seat') }) }).then((answer) => answer.json())"""


def plan_text(side: int, seed: int) -> str:
    """A plan of side x side cells."""
    choose = random.Random(seed)
    rows = ["".join(choose.choice("AAAAAB..") for _ in range(side)) for _ in range(side)]
    body = "\n".join(rows)
    return f'name = "Load"\ndrawing = """\n{body}\n"""\n'


def settled(page: Page) -> str:
    """The plan's text once nothing waits."""
    page.locator("html[data-pending='0']").wait_for(state="attached", timeout=600_000)
    return str(page.evaluate(_DRAFT)["text"])


def main(seconds: int = 60) -> None:
    """Print both figures."""
    listening = listen(0)
    port = listening.getsockname()[1]
    server = uvicorn.Server(uvicorn.Config(make_app(port), log_level="error"))
    threading.Thread(target=server.run, kwargs={"sockets": [listening]}, daemon=True).start()
    with sync_playwright() as play:
        browser = play.chromium.launch(executable_path=shutil.which("chromium"), args=["--no-sandbox"])
        page = browser.new_page(viewport={"width": 1400, "height": 900})
        page.goto(f"http://127.0.0.1:{port}/")
        page.locator("html[data-ready=yes]").wait_for(state="attached")
        verdicts(page)
        load(page, seconds)
        browser.close()
    server.should_exit = True


def opened(page: Page, text: str) -> None:
    """A plan opened on the page, seen whole."""
    page.set_input_files("#open-file", {"name": "plan.toml", "mimeType": "text/plain", "buffer": text.encode()})
    page.wait_for_timeout(1500)
    page.click("#whole")


def verdicts(page: Page) -> None:
    """One change at a time on 40 x 40 cells, and the bare computation of the same side by side."""
    text = plan_text(40, 2)
    opened(page, text)
    choose = random.Random(5)
    took, bare = [], []
    for _ in range(30):
        cell = [choose.randint(2, 39), choose.randint(2, 39)]
        page.evaluate(_PRESS, [[cell], 0])
        text = settled(page)
        page.wait_for_timeout(50)
        took.append(float(page.evaluate("document.documentElement.dataset.tookMs")))
        began = time.perf_counter()
        edited = apply_edits(text, read_edits([{"do": "paint", "cells": [cell], "room": "A"}]))
        view(edited.text, FIGURES)
        bare.append((time.perf_counter() - began) * 1000)
    mine, other = statistics.median(took), statistics.median(bare)
    print(f"40 x 40 cells: a change is seen after {mine:.0f} ms (median of 30, worst {max(took):.0f}); "
          f"bare computation {other:.0f} ms, ratio {mine / other:.2f} (under 150 ms)")  # fmt: skip


def load(page: Page, seconds: int) -> None:
    """Fifty edits a second, each to a cell of its own in turn; every one must be in the text at the end."""
    opened(page, plan_text(20, 3))
    page.locator("#sheet").focus()
    page.keyboard.press("z")
    cells = [[n % 20 + 1, n // 20 % 20 + 1] for n in range(seconds * 50)]
    took = page.evaluate(_PRESS, [cells, 20])
    text = settled(page)
    letters = json.dumps(open_text(text).drawing.rooms.tolist()).count(str(ord("Z")))
    wanted = len({tuple(cell) for cell in cells})
    print(f"{len(cells)} edits in {took / 1000:.1f} s: {letters} of {wanted} cells as painted, {wanted - letters} lost")


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 60)
