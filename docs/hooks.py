"""Called while the pages are built: adds those that are made from the program."""

from __future__ import annotations

from mkdocs.config.defaults import MkDocsConfig
from mkdocs.structure.files import File, Files
from reference import commands_page, formats_page

GENERATED = {"commands.md": commands_page, "formats.md": formats_page}


def on_files(files: Files, config: MkDocsConfig) -> Files:
    """Add the generated pages to those in docs."""
    for name, make in GENERATED.items():
        files.append(File.generated(config, name, content=make()))
    return files
