"""Photographs of the sheet as it is printed, rulers and words and all, laid flat by a homography."""

import cv2
import numpy as np
import pypdfium2

from likesewn.photo.sheet import FIELD_MM
from likesewn.publish.sheet_pdf import sheet_pdf
from likesewn.units import PAPER


def printed_sheet(paper="a4", number=1, dpi=300):
    """Return a page as grey levels, and the homography from the sheet's frame to its pixels."""
    page = pypdfium2.PdfDocument(sheet_pdf(paper, number))[number]
    grey = page.render(scale=dpi / 72.0, grayscale=True).to_numpy()
    grey = np.ascontiguousarray(grey.reshape(grey.shape[:2]))
    size = PAPER[paper]
    x, y = grey.shape[1] / size.width_mm, grey.shape[0] / size.height_mm
    left, top = (size.width_mm - FIELD_MM[0]) / 2, (size.height_mm - FIELD_MM[1]) / 2
    return grey, np.array([[x, 0, left * x - 0.5], [0, y, top * y - 0.5], [0, 0, 1.0]])


def snapped(paper="a4", number=1, *, per_mm=1.8, noise=2.0, blur=0.8, quality=85, seed=1, tilt=1e-4):
    """Return a grey JPEG of a sheet on a table, and the homography from the sheet's frame to its pixels.

    Each pixel is the mean of 8 by 8 places, and each of these of the print round it.
    """
    page, to_page = printed_sheet(paper, number)
    width, height = int(300 * per_mm), int(380 * per_mm)
    a = np.radians(7.0)
    c, s = np.cos(a) * per_mm, np.sin(a) * per_mm
    to_px = np.array([[c, -s, 0.27 * width], [s, c, 0.13 * height], [tilt, 0.6 * tilt, 1.0]])
    fine = 8
    larger = np.array([[fine, 0, (fine - 1) / 2], [0, fine, (fine - 1) / 2], [0, 0, 1.0]])
    seen = cv2.warpPerspective(
        (32 + 0.78 * page.astype(np.float32)),
        larger @ to_px @ np.linalg.inv(to_page),
        (width * fine, height * fine),
        flags=cv2.INTER_LINEAR,
        borderValue=150.0,
    )
    seen = cv2.GaussianBlur(cv2.resize(seen, (width, height), interpolation=cv2.INTER_AREA), (0, 0), blur)
    seen += noise * np.random.default_rng(seed).standard_normal(seen.shape)
    coded = cv2.imencode(
        ".jpg", np.clip(np.rint(seen), 0, 255).astype(np.uint8), [cv2.IMWRITE_JPEG_QUALITY, quality]
    )[1]
    return cv2.imdecode(coded, cv2.IMREAD_GRAYSCALE), to_px
