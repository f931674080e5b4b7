"""The parts of the desk that need no browser, tested by Node's own runner."""

import shutil
import subprocess
from importlib import resources
from pathlib import Path

import pytest

NODE = shutil.which("node")


@pytest.mark.skipif(NODE is None, reason="Node is not installed")
@pytest.mark.parametrize(("tests", "part"), [("page", "."), ("sheet", "sheet")])
def test_the_parts_of_the_page(tests, part, tmp_path):
    # Node takes a .js file for a module only below a package that says so; the page needs no such file.
    (tmp_path / "package.json").write_text('{"type": "module"}')
    with resources.as_file(resources.files("tilegen.desk") / "page") as page:
        shutil.copytree(page / part, tmp_path / "page" / part)
    shutil.copytree(Path(__file__).parent / tests, tmp_path / "tests")
    found = subprocess.run(
        [NODE, "--test", "tests/"], cwd=tmp_path, capture_output=True, text=True, timeout=300, check=False
    )
    assert found.returncode == 0, found.stdout[-6000:] + found.stderr[-2000:]
    assert "# fail 0" in found.stdout
