"""`tilegen --help` against a bare typer program with ten commands, whole processes taken in turn."""

from __future__ import annotations

import subprocess
import sys
import tempfile
import time
from pathlib import Path

BARE = """
import typer
app = typer.Typer(help="A bare program.")
{commands}
if __name__ == "__main__":
    app()
"""
COMMAND = '''
@app.command()
def command_{n}(name: str, size: int = 3, quiet: bool = False) -> None:
    """Does thing number {n}."""
'''


def seconds(command: list[str]) -> float:
    start = time.perf_counter()
    subprocess.run(command, stdout=subprocess.DEVNULL, check=True)
    return time.perf_counter() - start


def measure(rounds: int = 25) -> tuple[float, float, float]:
    """(ours, bare, ratio), least seconds of each."""
    with tempfile.TemporaryDirectory() as folder:
        bare = Path(folder) / "bare.py"
        bare.write_text(BARE.format(commands="".join(COMMAND.format(n=n) for n in range(10))))
        ours, plain = [], []
        for _ in range(rounds):
            ours.append(seconds([sys.executable, "-c", "from tilegen.cli import main; main()", "--help"]))
            plain.append(seconds([sys.executable, str(bare), "--help"]))
    return min(ours), min(plain), min(ours) / min(plain)


if __name__ == "__main__":
    ours, plain, ratio = measure()
    print(f"--help: ours {ours:.3f} s, bare typer {plain:.3f} s, ratio {ratio:.2f} (at most 1.3)")
