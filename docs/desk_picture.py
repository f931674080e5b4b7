"""Make the picture of the desk, with a browser that is installed (needs the extra dev)."""

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
    with sync_playwright() as play:
        browser = play.chromium.launch(executable_path=shutil.which("chromium"), args=["--no-sandbox"])
        page = browser.new_page(viewport={"width": 1200, "height": 760})
        page.goto(f"http://127.0.0.1:{port}/")
        page.locator("html[data-ready=yes]").wait_for(state="attached")
        page.select_option("#examples", "bell-foundry")
        page.locator("#kit-total", has_text="tiles").wait_for()
        page.get_by_role("button", name="1 in base", exact=True).click()
        shot = Image.open(io.BytesIO(page.screenshot())).convert("RGB")
        shot.quantize(128, dither=Image.Dither.NONE).save(HERE / "desk.png", optimize=True)
        browser.close()
    server.should_exit = True


if __name__ == "__main__":
    main()
