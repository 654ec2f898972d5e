"""The tags of a PDF, read by pypdf (BSD)."""

from collections.abc import Iterator
from io import BytesIO
from typing import Any

import pypdf

Tag = tuple[str, str | None]


def tags_of(pdf: bytes) -> list[Tag]:
    """Every structure element: its type, and what it says in place of a picture.

    Fails unless the document says of itself what PDF/UA-1 (ISO 14289-1, clause 7) asks: that it is tagged,
    its language, a title that is displayed, and which part of the standard it keeps to.
    """
    root: Any = pypdf.PdfReader(BytesIO(pdf)).trailer["/Root"]
    assert root["/MarkInfo"]["/Marked"].value is True and root["/Lang"] == "en"
    assert root["/ViewerPreferences"]["/DisplayDocTitle"].value is True
    assert b"<pdfuaid:part>1</pdfuaid:part>" in root["/Metadata"].get_object().get_data()
    return list(_below(root["/StructTreeRoot"]))


def _below(node: Any) -> Iterator[Tag]:
    kids = node.get("/K", [])
    for kid in kids if isinstance(kids, list) else [kids]:
        kid = kid.get_object()
        if isinstance(kid, dict) and "/S" in kid:
            yield str(kid["/S"]), kid.get("/Alt")
            yield from _below(kid)
