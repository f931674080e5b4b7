"""XML of other people's files: what is read, in which line, and what is refused; expat's limits against lxml's tree."""

import io

import pytest
from lxml import etree

from tilegen.errors import InputError
from tilegen.files import xmltree
from tilegen.files.xmltree import read_tree, read_tree_file

SVG = '<svg xmlns="http://www.w3.org/2000/svg" xmlns:i="urn:i" width="6mm">{}</svg>'


def tree(text):
    return read_tree(io.BytesIO(text if isinstance(text, bytes) else text.encode()), "SVG")


def test_against_lxml():
    for encoding in ["utf-8", "utf-16"]:
        for text in [
            SVG.format(
                '<!-- <g/> --><?do <g/>?>\n<g\n more="1"><path more="1" d="M0 0\n1 1"/>\r\n<text>words <i:b>and</i:b></text></g>\n<g/>'
            ),
            '<?xml version="1.0" encoding="utf-8"?>\n' + SVG.format("<![CDATA[<g/>]]>\n<i:g id='&#228;&lt;'/>"),
            '<!DOCTYPE svg PUBLIC "-//W3C//DTD SVG 1.1//EN" "http://nowhere.invalid/svg11.dtd">\n' + SVG.format("<g/>"),
            "<!DOCTYPE svg [<!ATTLIST g d CDATA 'added'>]>\n" + SVG.format("<g/>"),
            SVG.format("<g>" * 200 + "</g>" * 200),
            SVG.format("<text>" + "x" * 20_000 + "</text>\n<g/>"),
        ]:
            content = text.replace("utf-8", encoding).encode(encoding)
            parser = etree.XMLParser(resolve_entities=False, no_network=True, load_dtd=False)
            theirs = [e for e in etree.fromstring(content, parser).iter() if isinstance(e.tag, str)]
            ours = list(tree(content).iter())
            assert [e.tag for e in ours] == [etree.QName(e).localname for e in theirs]
            assert [e.line for e in ours[1:]] == [begins(e) for e in theirs[1:]]
            assert [{k: v for k, v in e.attrib.items() if not k.startswith("xmlns")} for e in ours] == [
                dict(e.attrib) for e in theirs
            ]


def begins(element):
    """lxml tells the line in which a tag ends; more: how many lines on."""
    return element.sourceline - int(element.get("more", 0))


@pytest.mark.parametrize("encoding", ["iso-8859-1", "windows-1252", "koi8-r"])
def test_other_encodings(encoding):
    text = (
        f'<?xml version="1.0" encoding="{encoding}"?><svg a="Ж"/>'
        if encoding == "koi8-r"
        else f'<?xml version="1.0" encoding="{encoding}"?><svg a="é"/>'
    )
    assert tree(text.encode(encoding)).get("a") == text[-4]


def test_refused():
    for text, part in [
        ("", "line 1: the XML is broken (no element found)"),
        ("<svg", "line 1: the XML is broken (unclosed token)"),
        ("<svg>\n<g></svg>", "line 2: the XML is broken (mismatched tag)"),
        (b"\xff\xfe\x00", "the XML is broken"),
        (b'<?xml version="1.0" encoding="no-such"?><svg/>', "line 1: the text is not in the encoding that it states"),
        ("<svg>&a;</svg>", "the XML is broken (undefined entity)"),
        ('<!DOCTYPE svg [<!ENTITY a "b">]><svg/>', "entities of its own"),
        ('<!DOCTYPE svg [<!ENTITY % a SYSTEM "a.dtd"> %a;]><svg/>', "entities of its own"),
        ('<!DOCTYPE svg [<!ENTITY a SYSTEM "a.txt">]><svg>&a;</svg>', "entities of its own"),
        ("<svg>" + "\n<g>" * 256, "nested more than 256 deep"),
        ("<svg>" + "".join(f"<g{n}/>" for n in range(10_001)), "more than 10,000 different names"),
        ("<svg>" + "".join(f"<g a{n}='1'/>" for n in range(10_001)), "more than 10,000 different names"),
        ("<svg>\n<!--" + "x" * 10_100_000, "line 2: a tag or a comment has more than 10,000,000 bytes"),
    ]:
        with pytest.raises(InputError) as caught:
            tree(text)
        assert part in str(caught.value)


def test_elements_are_counted(monkeypatch):
    monkeypatch.setattr(xmltree._Tree, "_most", 100)
    assert len(list(tree("<svg>" + "<g/>" * 99 + "</svg>").iter())) == 100
    with pytest.raises(InputError, match="more than 100 elements"):
        tree("<svg>" + "<g/>" * 100 + "</svg>")


def test_long_defaults_and_namespaces_are_not_multiplied():
    """A megabyte declared once and used 100,000 times would be 100 GB."""
    long = "x" * 1_000_000
    for head in (f'<!DOCTYPE a [<!ATTLIST b c CDATA "{long}">]><a>', f'<a xmlns="{long}">'):
        assert tree(head + "<b/>" * 100_000 + "</a>")[-1].attrib == {}


def test_a_file_that_can_not_be_opened(tmp_path):
    with pytest.raises(InputError, match="it is a folder, not a file"):
        read_tree_file(tmp_path, "SVG")
