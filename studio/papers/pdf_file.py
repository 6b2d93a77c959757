"""A PDF that is written as it is drawn: of a finished page only its place in the file stays in memory.

ReportLab alone keeps every page and photo until the end, then twice. What is written here, and how, is still its own:
only when is decided here. It takes a moment to load, so nothing imports this module before a sheet is opened.
"""

import threading
from tempfile import SpooledTemporaryFile
from typing import IO, Any, NamedTuple

from reportlab.pdfbase import pdfdoc

SMALL = 1_000_000  # bytes: a file up to this size, as nearly all are, needs no disk
_writing = threading.Lock()


class _Written(NamedTuple):
    """Stands for a photo that is in the file, to be drawn again from there."""

    width: int
    height: int


class PdfFile:
    """The file that a canvas draws."""

    def __init__(self, canvas: Any) -> None:
        self._canvas = canvas
        self._document = canvas._doc
        self._file: IO[bytes] = SpooledTemporaryFile(max_size=SMALL)  # noqa: SIM115 -- handed to who asked for it
        self._file.write(pdfdoc.PDFFile(self._document._pdfVersion).format(self._document))
        self._known = 0  # the number of the last object that was looked at

    def end_page(self) -> None:
        """End the page, and write it with the photos that it is the first to show."""
        self._canvas.showPage()
        document = self._document
        document.Pages.pages[-1] = pdfdoc.PDFObjectReference(document.Pages.pages[-1].__InternalName__)
        while (number := self._known + 1) in document.numberToId:
            self._known = number
            name = document.numberToId[number]
            thing = document.idToObject[name]
            if isinstance(thing, pdfdoc.PDFImageXObject):
                self._write(name)
                document.idToObject[name] = _Written(thing.width, thing.height)
            elif isinstance(thing, pdfdoc.PDFPage | pdfdoc.PDFStream):
                self._write(name)
                document.idToObject[name] = None

    def finish(self) -> IO[bytes]:
        """Write what is left, as PDFDocument.GetPDFData does, and return the file at its beginning."""
        if self._canvas._code:
            self.end_page()
        document = self._document
        with _writing:  # ReportLab cuts each file's fonts out of one shared reader that keeps its place
            for font in document.delayedFonts:
                font.addObjects(document)
        document.info.digest(document.signature)
        document.Outlines.prepare(document, self._canvas)
        if document.Outlines.ready < 0:
            document.Catalog.Outlines = None
        root, info = document.Reference(document.Catalog), document.Reference(document.info)
        number = 0
        while (number := number + 1) in document.numberToId:
            if document.numberToId[number] not in document.idToOffset:
                self._write(document.numberToId[number])
        self._write_index(number, root, info)
        self._file.seek(0)
        return self._file

    def _write(self, name: str) -> None:
        document = self._document
        document.idToOffset[name] = self._file.tell()
        thing = pdfdoc.PDFIndirectObject(name, document.idToObject[name])
        self._file.write(thing.format(document))

    def _write_index(self, size: int, root: object, info: object) -> None:
        """Write where each object stands, and which one to begin with."""
        document = self._document
        index, start = pdfdoc.PDFCrossReferenceTable(), self._file.tell()
        index.addsection(0, [document.numberToId[number] for number in range(1, size)])
        self._file.write(index.format(document))
        trailer = pdfdoc.PDFTrailer(startxref=start, Size=size, Root=root, Info=info, ID=document.ID())
        self._file.write(trailer.format(document))
