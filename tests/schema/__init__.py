"""The W3C schema of MusicXML 4.0, read from this folder: nothing is fetched."""

from functools import cache
from pathlib import Path
from typing import Any

from lxml import etree

FOLDER = Path(__file__).resolve().parent


class _Local(etree.Resolver):
    """Serves the schemas that the main one imports by address."""

    def resolve(self, url: str, public_id: str, context: object) -> object:
        return self.resolve_filename(str(FOLDER / url.rpartition("/")[2]), context)


@cache
def musicxml_schema() -> Any:
    """The schema, compiled once."""
    parser = etree.XMLParser()
    parser.resolvers.add(_Local())
    return etree.XMLSchema(etree.parse(str(FOLDER / "musicxml.xsd"), parser))
