"""XML of other people's files, read by the standard library: no entities, nothing fetched, all that grows bounded."""

from __future__ import annotations

from pathlib import Path
from typing import IO
from xml.etree import ElementTree
from xml.parsers import expat

from tilegen.errors import InputError, refused

# Real drawings and models need a few levels and a few dozen names. No tag, comment or text between two of
# them is kept whole beyond the last figure.
MOST_DEPTH = 256
MOST_ELEMENTS = 50_000_000
MOST_IN_A_TREE = 1_000_000
_MOST_NAMES = 10_000
_LARGEST_TOKEN = 10_000_000
# Large, since a token that goes on is looked through again with each.
_CHUNK = 1_048_576


class Element(ElementTree.Element):
    """An element with its name bare of prefix and namespace, and the line of the file that its tag begins in."""

    __slots__ = ("line",)

    def __init__(self, tag: str, attributes: dict[str, str], line: int) -> None:
        super().__init__(tag, attributes)
        self.line = line

    def children(self) -> list[Element]:
        """The elements directly inside this one."""
        return [child for child in self if isinstance(child, Element)]


class XmlReading:
    """One reading of a file from its first tag to its last; subclasses say what is done with each.

    kind: what the file should be, for messages.
    """

    _most = MOST_ELEMENTS

    def __init__(self, kind: str) -> None:
        self._kind = kind
        self._depth = self._count = 0
        self._names: dict[str, str] = {}
        self._parser = expat.ParserCreate(intern=self._names)
        # What a DTD would add to an element is left out: a long default could be asked for a million times.
        self._parser.specified_attributes = True

    @property
    def line(self) -> int:
        """Where the tag that is being read begins."""
        return self._parser.CurrentLineNumber

    def start(self, name: str, attributes: dict[str, str]) -> None:
        """A tag is opened; name: without its prefix."""

    def end(self) -> None:
        """The tag opened last is closed."""

    def read(self, stream: IO[bytes]) -> None:
        """Read all of a file.

        Raises:
            InputError: not well-formed, entities of its own, too deep, or a token or a set of names out of all bounds.
        """
        self._parser.StartElementHandler = self._start
        self._parser.EndElementHandler = self._end
        self._parser.EntityDeclHandler = self._entity
        try:
            self._feed(stream)
        except (expat.ExpatError, LookupError, ValueError) as error:
            # The last two: encodings that are unknown, or not the file's.
            line, said = self.line, "the text is not in the encoding that it states"
            if isinstance(error, expat.ExpatError):
                line, said = error.lineno, f"the XML is broken ({expat.ErrorString(error.code)})"
            raise InputError(said, cure=f"Save it again as {self._kind}", place=f"line {line}") from None
        finally:
            # A parser and its handlers hold each other.
            self._parser.StartElementHandler = self._parser.EndElementHandler = self._parser.EntityDeclHandler = None

    def _feed(self, stream: IO[bytes]) -> None:
        fed = 0
        while chunk := stream.read(_CHUNK):
            self._parser.Parse(chunk, False)
            fed += len(chunk)
            if fed - self._parser.CurrentByteIndex > _LARGEST_TOKEN:
                raise self._too_much(f"a tag or a comment has more than {_LARGEST_TOKEN:,} bytes")
        self._parser.Parse(b"", True)

    def _start(self, name: str, attributes: dict[str, str]) -> None:
        self._depth += 1
        self._count += 1
        if self._count > self._most:
            raise self._too_much(f"there are more than {self._most:,} elements")
        if self._depth > MOST_DEPTH:
            raise self._too_much(f"elements are nested more than {MOST_DEPTH} deep")
        if len(self._names) > _MOST_NAMES:
            raise self._too_much(f"there are more than {_MOST_NAMES:,} different names")
        self.start(name.rpartition(":")[2], attributes)

    def _end(self, _: str) -> None:
        self._depth -= 1
        self.end()

    def _entity(self, *_: object) -> None:
        raise InputError(
            "the file defines entities of its own, which are not read here", cure=f"Save it again as plain {self._kind}"
        )

    def _too_much(self, what: str) -> InputError:
        """More than any real file has."""
        return InputError(what, cure=f"Check that this is the right {self._kind} file", place=f"line {self.line}")


class _Tree(XmlReading):
    """All elements with their attributes; what stands between the tags is not kept."""

    _most = MOST_IN_A_TREE

    def __init__(self, kind: str) -> None:
        super().__init__(kind)
        self.root: Element | None = None
        self._open: list[Element] = []

    def start(self, name: str, attributes: dict[str, str]) -> None:
        element = Element(name, attributes, self.line)
        if self._open:
            self._open[-1].append(element)
        else:
            self.root = element
        self._open.append(element)

    def end(self) -> None:
        self._open.pop()


def read_tree(stream: IO[bytes], kind: str) -> Element:
    """The root element of a file, all others below it; texts, comments and instructions are left out.

    kind: what the file should be, for messages.

    Raises:
        InputError: not well-formed, entities of its own, or larger in some way than any real file.
    """
    tree = _Tree(kind)
    tree.read(stream)
    assert tree.root is not None, "expat finds no file well-formed without one"
    return tree.root


def read_tree_file(path: Path, kind: str) -> Element:
    """As `read_tree`, from a file by its path; one that can't be opened is reported in the same way."""
    try:
        with path.open("rb") as stream:
            return read_tree(stream, kind)
    except OSError as error:
        raise refused(error, path) from None
