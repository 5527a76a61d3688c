"""Reads paths and words back from a PDF with another library than the one that wrote it."""

import ctypes
from dataclasses import dataclass

import numpy as np
import pypdfium2
import pypdfium2.raw as pdfium

MM_PER_POINT = 25.4 / 72.0


@dataclass(frozen=True)
class PagePath:
    """A path object: its points (control points of curves too) in mm from the page's left top corner."""

    kinds: tuple[int, ...]
    points: np.ndarray
    width_mm: float
    dashes: int

    @property
    def size(self) -> np.ndarray:
        return np.ptp(self.points, axis=0)


@dataclass(frozen=True)
class Page:
    width_mm: float
    height_mm: float
    paths: tuple[PagePath, ...]
    text: str


def _path(obj: pypdfium2.PdfObject, height: float) -> PagePath:
    a, b, c, d, e, f = obj.get_matrix().get()
    kinds, points = [], []
    for i in range(pdfium.FPDFPath_CountSegments(obj)):
        segment = pdfium.FPDFPath_GetPathSegment(obj, i)
        x, y = ctypes.c_float(), ctypes.c_float()
        pdfium.FPDFPathSegment_GetPoint(segment, x, y)
        kinds.append(pdfium.FPDFPathSegment_GetType(segment))
        points.append((a * x.value + c * y.value + e, height - (b * x.value + d * y.value + f)))
    width = ctypes.c_float()
    pdfium.FPDFPageObj_GetStrokeWidth(obj, width)
    return PagePath(
        tuple(kinds),
        np.array(points) * MM_PER_POINT,
        width.value * MM_PER_POINT,
        pdfium.FPDFPageObj_GetDashCount(obj),
    )


def read_pages(data: bytes) -> list[Page]:
    document = pypdfium2.PdfDocument(data)
    pages = []
    for page in document:
        width, height = page.get_size()
        paths = tuple(_path(obj, height) for obj in page.get_objects(filter=[pdfium.FPDF_PAGEOBJ_PATH]))
        text_page = page.get_textpage()
        text = text_page.get_text_range()
        text_page.close()
        page.close()
        pages.append(Page(width * MM_PER_POINT, height * MM_PER_POINT, paths, text))
    document.close()
    return pages


def metadata(data: bytes) -> dict[str, str]:
    document = pypdfium2.PdfDocument(data)
    found = document.get_metadata_dict()
    document.close()
    return found
