"""Drawings whose blocks are small on disk and endless once expanded: refused at once, with the reason."""

import ezdxf

from tests.calling import call


def nested(deep: int, times: int):  # type: ignore[no-untyped-def]
    """Each block inserts the one before so many times."""
    document = ezdxf.new()
    document.blocks.new("B0").add_line((0, 0), (1, 1))
    for number in range(1, deep):
        block = document.blocks.new(f"B{number}")
        for k in range(times):
            block.add_blockref(f"b{number - 1}", (k, 0))
    document.modelspace().add_blockref(f"B{deep - 1}", (0, 0))
    return document


def array():  # type: ignore[no-untyped-def]
    document = nested(1, 1)
    insert = document.modelspace()[0]
    insert.dxf.row_count = insert.dxf.column_count = 10_000
    return document


def in_itself():  # type: ignore[no-untyped-def]
    document = nested(2, 1)
    document.blocks.get("B0").add_blockref("B1", (0, 0))
    return document


def test_endless_blocks_are_refused(tmp_path) -> None:  # type: ignore[no-untyped-def]
    for document, reason in [
        (nested(30, 2), "more than 200,000 lines"),
        (nested(12, 10), "more than 200,000 lines"),
        (nested(200, 1), "more than 32 deep"),
        (array(), "more than 200,000 lines"),
        (in_itself(), "inserts itself"),
    ]:
        path = tmp_path / "blocks.dxf"
        document.saveas(path)
        done = call("inspect", path)
        assert done.returncode == 2
        assert reason in done.stderr
        assert "explode the blocks" in done.stderr.lower()
        (tmp_path / "t.toml").write_text('name = "t"\n[tile]\noutline_file = "blocks.dxf"\n')
        assert call("tile", tmp_path / "t.toml", "-o", tmp_path / "out", "--unit", "mm").returncode == 2


def test_blocks_in_blocks_are_measured(tmp_path) -> None:  # type: ignore[no-untyped-def]
    path = tmp_path / "blocks.dxf"
    nested(4, 3).saveas(path)
    assert call("inspect", path).returncode in (0, 1)
