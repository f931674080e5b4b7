"""Called while the pages are built: adds those that are made from the program."""

from __future__ import annotations

import re

from mkdocs.config.defaults import MkDocsConfig
from mkdocs.structure.files import File, Files
from mkdocs.structure.pages import Page
from reference import commands_page, formats_page

GENERATED = {"commands.md": commands_page, "formats.md": formats_page}


def on_files(files: Files, config: MkDocsConfig) -> Files:
    """Add the generated pages to those in docs."""
    for name, make in GENERATED.items():
        files.append(File.generated(config, name, content=make()))
    return files


def on_page_content(html: str, page: Page, config: MkDocsConfig, files: Files) -> str:  # noqa: ARG001
    """Code in running text breaks where words do: paths after a slash, names after a full stop, options nowhere."""
    parts = re.split(r"(<pre>.*?</pre>)", html, flags=re.DOTALL)
    return "".join(part if part.startswith("<pre>") else _CODE.sub(_breaks, part) for part in parts)


_CODE = re.compile(r"<code>[^<]*</code>")


def _breaks(code: re.Match[str]) -> str:
    if len(code[0]) <= len("<code></code>") + 16:
        return code[0].replace("<code>", '<code class="whole">')
    # Names of tests are long.
    places = r"[/.(:_]" if "::" in code[0] else r"[/.(]"
    parted = re.sub(rf"(?<=[\w:]){places}(?=[A-Za-z&])", r"\g<0><wbr>", code[0])
    return re.sub(r"(?<![\w-])--?[a-z][a-z-]*", r'<span class="whole">\g<0></span>', parted)
