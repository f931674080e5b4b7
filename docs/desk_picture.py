"""Make the pictures of the desk, with a browser that is installed (needs the extra dev)."""

import io
import shutil
import threading
from pathlib import Path

import uvicorn
from PIL import Image
from playwright.sync_api import sync_playwright

from tilegen.cli.desk import listen
from tilegen.desk.app import make_app

HERE = Path(__file__).parent


def main() -> None:
    listening = listen(0)
    port = listening.getsockname()[1]
    server = uvicorn.Server(uvicorn.Config(make_app(port), log_level="warning"))
    threading.Thread(target=server.run, kwargs={"sockets": [listening]}, daemon=True).start()
    flags = ["--no-sandbox", "--use-gl=angle", "--use-angle=swiftshader", "--enable-unsafe-swiftshader"]
    with sync_playwright() as play:
        browser = play.chromium.launch(executable_path=shutil.which("chromium"), args=flags)
        page = browser.new_page(viewport={"width": 1200, "height": 760})

        def keep(name: str) -> None:
            page.wait_for_timeout(5000)
            shot = Image.open(io.BytesIO(page.screenshot())).convert("RGB")
            shot.quantize(128, dither=Image.Dither.NONE).save(HERE / name, optimize=True)

        page.goto(f"http://127.0.0.1:{port}/")
        page.locator("html[data-ready=yes]").wait_for(state="attached")
        page.click("#open-plans")
        page.locator("[data-plan='bell-foundry']").click()
        page.locator("#answer").wait_for()
        page.locator(".figure button[aria-pressed]").last.click()
        keep("desk.png")
        page.click("#stand")
        page.click("#tab-kit")
        page.locator(".type").nth(3).hover()
        types = page.locator(".type").count()
        page.locator(f"html[data-solid-shown='{types}']").wait_for(state="attached", timeout=120_000)
        keep("desk-solid.png")
        browser.close()
    server.should_exit = True


if __name__ == "__main__":
    main()
