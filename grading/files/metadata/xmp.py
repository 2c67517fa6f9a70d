"""The XMP packet of an output: what its label says, and which original it is from.

Data model and serialisation: ISO 16684-1 (XMP). Property names and their types: IPTC Photo
Metadata Standard (Core) and XMP specification parts 1 and 2. Namespaces are as these state them.
"""

from xml.etree import ElementTree

from grading.files.metadata.label import Label, writable

SPACES = {
    "x": "adobe:ns:meta/",
    "rdf": "http://www.w3.org/1999/02/22-rdf-syntax-ns#",
    "dc": "http://purl.org/dc/elements/1.1/",
    "photoshop": "http://ns.adobe.com/photoshop/1.0/",
    "xmp": "http://ns.adobe.com/xap/1.0/",
    "xmpRights": "http://ns.adobe.com/xap/1.0/rights/",
    "xmpMM": "http://ns.adobe.com/xap/1.0/mm/",
    "stRef": "http://ns.adobe.com/xap/1.0/sType/ResourceRef#",
}
"""Namespaces by the prefixes that the standards prefer."""

for _prefix, _space in SPACES.items():
    ElementTree.register_namespace(_prefix, _space)

_BEGIN = '<?xpacket begin="\ufeff" id="W5M0MpCehiHzreSzNTczkc9d"?>\n'
_END = '\n<?xpacket end="r"?>'
_LANGUAGE = "{http://www.w3.org/XML/1998/namespace}lang"


def xmp_packet(label: Label, name: str, sha256: str) -> bytes | None:
    """The packet of an output.

    Parameters
    ----------
    label : Label
    name : str
        Of the original's file.
    sha256 : str
        Of its content, hexadecimal.

    Returns
    -------
    bytes or None
        UTF-8; None where the label states nothing that XMP would carry.
    """
    if label == Label(place=label.place, dpi=label.dpi):
        return None
    root = ElementTree.Element(_name("x:xmpmeta"))
    rdf = ElementTree.SubElement(root, _name("rdf:RDF"))
    about = ElementTree.SubElement(rdf, _name("rdf:Description"), {_name("rdf:about"): ""})
    _list(about, "dc:creator", "rdf:Seq", label.creator and [label.creator])
    _text(about, "photoshop:Credit", label.credit)
    _languages(about, "dc:rights", label.rights)
    _text(about, "xmpRights:WebStatement", label.rights_page)
    _languages(about, "xmpRights:UsageTerms", label.terms)
    _languages(about, "dc:description", label.caption)
    _list(about, "dc:subject", "rdf:Bag", label.keywords)
    _text(about, "xmp:Rating", label.rating and str(label.rating))
    _origin(about, name, sha256)
    ElementTree.indent(root)
    return (_BEGIN + ElementTree.tostring(root, encoding="unicode") + _END).encode("utf-8")


def _name(prefixed):
    prefix, name = prefixed.split(":")
    return f"{{{SPACES[prefix]}}}{name}"


def _text(parent, name, text):
    if text:
        ElementTree.SubElement(parent, _name(name)).text = text


def _list(parent, name, kind, texts):
    if texts:
        inside = ElementTree.SubElement(ElementTree.SubElement(parent, _name(name)), _name(kind))
        for each in texts:
            _text(inside, "rdf:li", each)
        return inside
    return None


def _languages(parent, name, text):
    """A language alternative with its default alone."""
    alternatives = _list(parent, name, "rdf:Alt", text and [text])
    if alternatives is not None:
        alternatives[0].set(_LANGUAGE, "x-default")


def _origin(parent, name, sha256):
    """xmpMM:DerivedFrom: the original's name, and a name of its very content (RFC 6920, 7)."""
    source = ElementTree.SubElement(parent, _name("xmpMM:DerivedFrom"))
    source.set(_name("rdf:parseType"), "Resource")
    _text(source, "stRef:documentID", f"nih:sha-256;{writable(sha256)}")
    _text(source, "stRef:filePath", writable(name))
