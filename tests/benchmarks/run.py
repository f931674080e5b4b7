"""All benchmarks of the repository, one after the other; copy what it prints into RESULTS.md."""

from __future__ import annotations

import platform
import subprocess
import sys
from datetime import UTC, datetime
from pathlib import Path

MODULES = ("tiles", "surfaces", "startup", "builds", "kits", "nesting", "beds", "workers", "outlines", "batches")


def main() -> None:
    print(
        f"{datetime.now(UTC):%Y-%m-%d}, Python {platform.python_version()}, {platform.machine()}, {platform.system()}"
    )
    for module in MODULES:
        print(f"\n{module}: python -m tests.benchmarks.{module}", flush=True)
        subprocess.run([sys.executable, "-m", f"tests.benchmarks.{module}"], check=True, cwd=Path(__file__).parents[2])


if __name__ == "__main__":
    main()
