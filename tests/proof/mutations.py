"""Ways to spoil a file: each takes bytes and a random generator and gives other bytes."""

from __future__ import annotations

import io
import random
import re
import zipfile
from collections.abc import Callable

Mutation = Callable[[bytes, random.Random], bytes]

_EXTREMES = (
    b"0", b"-0.0", b"-1", b"1", b"2", b"1e-320", b"1e-9", b"1e9", b"1e308", b"-1e308", b"1e999", b"nan", b"inf", b"-inf",
    b"99999999999999999999", b"9223372036854775807", b"4294967296", b"2147483648", b"65536", b"1000000", b"0.1", b"true",
    b'"1e400 in"', b'""', b'"1/0 in"', b'"-3 mm"', b'"1000 km"', b"[]", b"{}", b"1_000", b"0x7fffffff",
)  # fmt: skip
_NUMBER = re.compile(rb"-?\d+(?:\.\d+)?(?:[eE][-+]?\d+)?")
_WORD = re.compile(rb"[A-Za-z_][A-Za-z_0-9-]*")
_NASTY_NAMES = (
    b"../../escaped", b"/escaped", b"a/b", b"con", b"\\\\x", b".", b"..", b"a" * 300, b"\xc3\xa9\xcc\x81\xf0\x9f\x92\xa3",
    b"<script>", b"=cmd()", b"%s%n", b"name with blank", b"a\\nb", b"\\u0000", b"--out",
)  # fmt: skip


def flip(data: bytes, chance: random.Random) -> bytes:
    """Some bits the other way."""
    out = bytearray(data)
    for _ in range(chance.choice((1, 1, 2, 8, 64)) if out else 0):
        out[chance.randrange(len(out))] ^= 1 << chance.randrange(8)
    return bytes(out)


def number(data: bytes, chance: random.Random) -> bytes:
    """One to three numbers become extreme ones."""
    for _ in range(chance.choice((1, 1, 1, 3))):
        found = list(_NUMBER.finditer(data))
        if not found:
            break
        at = chance.choice(found)
        data = data[: at.start()] + chance.choice(_EXTREMES) + data[at.end() :]
    return data


def swap(data: bytes, chance: random.Random) -> bytes:
    """Two words change places."""
    found = list(_WORD.finditer(data))
    if len(found) < 2:
        return data
    one, two = sorted(chance.sample(found, 2), key=lambda m: m.start())
    return data[: one.start()] + two[0] + data[one.end() : two.start()] + one[0] + data[two.end() :]


def rename(data: bytes, chance: random.Random) -> bytes:
    """A quoted word becomes a name that no file system, shell or page likes."""
    found = list(re.finditer(rb'"([^"\n]*)"', data)) or list(_WORD.finditer(data))
    if not found:
        return data
    at = chance.choice(found)
    return data[: at.start()] + b'"' + chance.choice(_NASTY_NAMES) + b'"' + data[at.end() :]


def lines(data: bytes, chance: random.Random) -> bytes:
    """Lines are removed, doubled or moved."""
    rows = data.split(b"\n")
    at = chance.randrange(len(rows))
    many = chance.choice((1, 1, 2, 5, 20))
    part = rows[at : at + many]
    how = chance.randrange(3)
    if how == 0:
        rows[at : at + many] = []
    elif how == 1:
        rows[at:at] = part
    else:
        rows[at : at + many] = []
        place = chance.randrange(len(rows) + 1)
        rows[place:place] = part
    return b"\n".join(rows)


def tables(data: bytes, chance: random.Random) -> bytes:
    """A TOML table is removed, doubled, or repeated many times."""
    parts = re.split(rb"(?m)^(?=\[)", data)
    if len(parts) < 2:
        return lines(data, chance)
    at = chance.randrange(1, len(parts))
    how = chance.choice(("out", "twice", "many", "renamed"))
    if how == "out":
        del parts[at]
    elif how == "renamed":
        parts[at] = _WORD.sub(b"grid", parts[at], count=1)
    else:
        parts[at:at] = [parts[at]] * (1 if how == "twice" else chance.choice((3, 50, 2000)))
    return b"".join(parts)


def nest(data: bytes, chance: random.Random) -> bytes:
    """A value becomes a deeply nested one."""
    deep = chance.choice((3, 100, 5000))
    found = list(re.finditer(rb"=\s*([^\n]+)", data)) or list(_NUMBER.finditer(data))
    if not found:
        return data
    at = chance.choice(found)
    begins, ends = (b"[", b"]") if chance.random() < 0.7 else (b"{a=", b"}")
    return data[: at.start()] + b"= " + begins * deep + b"1" + ends * deep + data[at.end() :]


def large(data: bytes, chance: random.Random) -> bytes:
    """A stretch is repeated until the file is large."""
    if not data:
        return data
    at = chance.randrange(len(data))
    part = data[at : at + chance.choice((1, 10, 200, 2000))]
    return data[:at] + part * (chance.choice((1000, 100_000, 1_000_000)) // len(part)) + data[at:]


def cut(data: bytes, chance: random.Random) -> bytes:
    """The file ends early, or begins late."""
    at = chance.randrange(len(data) + 1)
    return data[:at] if chance.random() < 0.8 else data[at:]


def odd_bytes(data: bytes, chance: random.Random) -> bytes:
    """NUL, byte order marks, control and direction marks somewhere."""
    what = chance.choice(
        (b"\x00", b"\x00" * 1000, b"\xff\xfe", b"\xef\xbb\xbf", b"\x1b[31m", "\u202e\u2066".encode(), b"\xed\xa0\x80")
    )
    at = chance.choice((0, chance.randrange(len(data) + 1)))
    return data[:at] + what + data[at:]


def recode(data: bytes, chance: random.Random) -> bytes:
    """The same text in another encoding, or with other line ends."""
    how = chance.choice(("utf-16", "utf-32", "utf-16-le", "cp037", "utf-8-sig", "\r", "\r\n", "utf-7"))
    if how.startswith("\r"):
        return data.replace(b"\n", how.encode())
    return data.decode("latin-1").encode(how, errors="replace")


def entities(data: bytes, chance: random.Random) -> bytes:
    """XML that defines entities by entities, or from outside."""
    levels = chance.choice((3, 10, 30))
    names = [f'<!ENTITY a{n} "{f"&a{n - 1};" * 10 if n else "x" * 100}">' for n in range(levels)]
    outside = '<!ENTITY o SYSTEM "file:///etc/passwd"><!ENTITY % p SYSTEM "file:///etc/hostname"> %p;'
    head = f"<!DOCTYPE svg [{''.join(names)}{outside if chance.random() < 0.5 else ''}]>".encode()
    body = re.sub(rb"<\?xml.*?\?>\s*(<!DOCTYPE[^>]*>)?", b"", data, count=1)
    at = body.find(b">") + 1
    return b'<?xml version="1.0"?>' + head + body[:at] + f"&a{levels - 1};&o;".encode() + body[at:]


def package(data: bytes, chance: random.Random, inner: tuple[Mutation, ...] = ()) -> bytes:
    """A 3MF's model is spoilt inside its package, or the package is: doubled, missing, bomb, climbing names."""
    try:
        with zipfile.ZipFile(io.BytesIO(data)) as old:
            entries = {name: old.read(name) for name in old.namelist()}
    except Exception:  # spoilt before, in any way
        return flip(data, chance)
    name = chance.choice(sorted(entries))
    how = chance.choice(("inner", "inner", "inner", "out", "bomb", "climb", "lie", "empty", "model bomb"))
    if how == "inner" and inner:
        entries[name] = chance.choice(inner)(entries[name], chance)
    elif how == "out":
        del entries[name]
    elif how == "bomb":
        entries["extra.bin"] = bytes(chance.choice((10, 200)) * 1024**2)
    elif how == "model bomb":
        spot = entries[name].find(b">") + 1
        entries[name] = entries[name][:spot] + b" " * (chance.choice((10, 200)) * 1024**2) + entries[name][spot:]
    elif how == "climb":
        entries["../../escaped.txt"] = b"x"
    elif how == "empty":
        entries[name] = b""
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED, compresslevel=1) as new:
        for entry, content in entries.items():
            new.writestr(zipfile.ZipInfo(entry), content, compress_type=zipfile.ZIP_DEFLATED)
    if how == "lie":
        # The directory says that an entry is far smaller, or larger, than it is.
        packed = bytearray(out.getvalue())
        at = packed.find(b"PK\x01\x02")
        packed[at + 24 : at + 28] = chance.choice((b"\x01\x00\x00\x00", b"\xff\xff\xff\x7f", b"\x00\x00\x00\x10"))
        return bytes(packed)
    return out.getvalue()


def count(data: bytes, chance: random.Random) -> bytes:
    """A binary STL says another number of triangles, or has other coordinates."""
    out = bytearray(data)
    if chance.random() < 0.4:
        out[80:84] = chance.choice(
            (b"\x00" * 4, b"\xff" * 4, b"\x01\x00\x00\x00", b"\xff\xff\xff\x7f", b"\x00\x00\x00\x02")
        )
        return bytes(out)
    for _ in range(chance.choice((1, 12, 100))):
        if len(out) > 100:
            at = 84 + 50 * chance.randrange((len(out) - 84) // 50) + 4 * chance.randrange(12)
            out[at : at + 4] = chance.choice(
                (
                    b"\x00\x00\x80\x7f",
                    b"\x00\x00\xc0\x7f",
                    b"\xff\xff\x7f\x7f",
                    b"\x01\x00\x00\x00",
                    b"\x00\x00\x80\xff",
                )
            )
    return bytes(out)


TEXT: tuple[Mutation, ...] = (flip, number, number, number, swap, rename, lines, large, cut, odd_bytes, recode)
TOML: tuple[Mutation, ...] = (*TEXT, number, rename, swap, tables, tables, nest)
XML: tuple[Mutation, ...] = (*TEXT, entities, entities)
BINARY: tuple[Mutation, ...] = (flip, cut, large, odd_bytes, count, count)


def spoil(kind: str, data: bytes, chance: random.Random) -> tuple[bytes, str]:
    """One to three mutations that suit the kind of file; the bytes and what was done."""
    done = []
    for _ in range(chance.choice((1, 1, 1, 2, 3))):
        if kind == "3mf" and chance.random() < 0.8:
            data = package(data, chance, XML)
            done.append("package")
            continue
        usual = {"toml": TOML, "svg": XML, "stl": BINARY, "3mf": BINARY}.get(kind, TEXT)
        mutation = chance.choice(usual)
        data = mutation(data, chance)
        done.append(mutation.__name__)
    return data, " + ".join(done)
