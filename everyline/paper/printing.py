"""Printing: typst sets some hundreds of exercises at a time, pypdf binds the pages.

What fits into one batch is set in one go, tagged as PDF/UA-1 (ISO 14289-1) asks; a longer book is bound from
several, with bookmarks but without tags. The last page of each batch may be half empty, so its exercises are
set again at the head of the next batch: pages fill evenly, and no more than one batch is ever held.
"""

from __future__ import annotations

import json
from io import BytesIO
from pathlib import Path
from typing import IO, Any

from everyline.corpora.errors import EverylineError
from everyline.paper.fonts import FOLDER
from everyline.paper.heading import CAUTION
from everyline.paper.outlines import need

BATCH = 250
"""Exercises that are set at a time (each takes about a megabyte of memory). Only what fits into one batch has
tags, contents, and the number of pages beside each."""

STANDARD = "ua-1"

TEMPLATE = Path(__file__).with_name("sheet.typ")

Row = dict[str, Any]
Files = dict[str, str]


class PrintJob:
    """Prints one document: add exercises in order, then write it."""

    def __init__(self, page: Row, front: tuple[Row, Files] | None) -> None:
        self.page = page
        self.front = front
        self.empty = True
        self._waiting: list[tuple[Row, Files]] = []
        self._printed = 0
        self._binder: Any = None

    def add(self, row: Row, files: Files) -> None:
        """Add one exercise with its pictures."""
        self.empty = False
        self._waiting.append((row, files))
        if len(self._waiting) > BATCH:
            self._print_batch()

    def write(self, stream: IO[bytes]) -> int:
        """Print what is left and write the document; answers the number of pages."""
        if self._binder is not None:
            self._bind(self._compile(self._files(whole=False)), leave=0)
            self._binder.write(stream)
            return self._printed
        pdf = self._compile(self._files(whole=True), STANDARD)
        stream.write(pdf)
        return len(need("pypdf").PdfReader(BytesIO(pdf)).pages)

    def _print_batch(self) -> None:
        """Set all but the newest exercise, bind every page but the last, keep what stands on that one."""
        newest = self._waiting.pop()
        files = self._files(whole=False)
        places = json.loads(need("typst").query(files, "<exercise>", field="value", font_paths=[str(FOLDER)]))
        last = max(each["page"] for each in places)
        kept = [each["place"] for each in places if each["page"] == last]
        if last > 1:
            self._bind(self._compile(files), leave=1)
            self._waiting = self._waiting[min(kept) :]
            self.front = None
        self._waiting.append(newest)

    def _bind(self, pdf: bytes, leave: int) -> None:
        """Bind pages to the book, without the last ``leave`` of them."""
        pypdf = need("pypdf")
        if self._binder is None:
            self._binder = pypdf.PdfWriter()
            self._binder.metadata = {
                "/Title": self.page["title"],
                "/Author": self.page["author"],
                "/Producer": "Everyline",
            }
        reader = pypdf.PdfReader(BytesIO(pdf))
        pages = len(reader.pages) - leave
        self._binder.append(reader, pages=(0, pages), import_outline=True)
        self._printed += pages

    def _files(self, whole: bool) -> dict[str, bytes]:
        front, pictures = self.front if self.front is not None else (None, {})
        if front is not None:
            rows = [row for row, _ in self._waiting]
            shared = [fact for fact in rows[0]["facts"] if all(fact in row["facts"] for row in rows)]
            front = {**front, "facts": shared + front["facts"]}
        data = {
            **self.page,
            "language": "en",
            "front": front,
            "caution": CAUTION,
            "first_page": self._printed + 1,
            "whole": whole,
            "exercises": [{**row, "place": place} for place, (row, _) in enumerate(self._waiting)],
        }
        files = {"main.typ": TEMPLATE.read_bytes(), "data.json": json.dumps(data).encode()}
        for _, more in self._waiting:
            files.update({name: picture.encode() for name, picture in more.items()})
        files.update({name: picture.encode() for name, picture in pictures.items()})
        return files

    def _compile(self, files: dict[str, bytes], standard: str | None = None) -> bytes:
        typst = need("typst")
        standards = [standard] if standard is not None else []
        try:
            pdf: bytes = typst.compile(
                files, format="pdf", font_paths=[str(FOLDER)], timestamp=0, pdf_standards=standards
            )
        except Exception as error:  # typst has no narrower class for what it raises
            raise EverylineError(f"the page could not be set: {error}") from error
        return pdf
