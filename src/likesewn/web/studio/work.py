"""What a worker does with photographs: looks at one, unpacks it, traces those of one lay, follows a seam."""

import json
from collections import OrderedDict
from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from typing import Any, TypeVar

import cv2
import numpy as np

from likesewn.errors import InputError, Problem
from likesewn.garment import Finding, new_garment
from likesewn.photo import Picture, PrintScale, Rectified, read_picture, rectify
from likesewn.photo.seams import follow_seam
from likesewn.photo.trace import Tracing, corner_names
from likesewn.photo.tracing_data import edges_data, tracing_data
from likesewn.photo.tracing_job import Lay, LayTraced, check_lay, find_garment, with_lines
from likesewn.photo.tracing_text import filled_in, with_tracing, without_tracing
from likesewn.web.studio.asking import read_lay, read_points
from likesewn.web.studio.unpacking import jpeg_of

__all__ = ["PREVIEW_SIDE", "Work"]

Key = TypeVar("Key")
Value = TypeVar("Value")
_Found = tuple[Tracing, tuple[Finding, ...], int]  # without the picture, so that none is kept for its sake

PREVIEW_SIDE = 2400
"""Longer side of a preview, px: more than a screen shows at once, and enough for the magnifier."""

PREVIEW_QUALITY = 85

KEPT_BYTES = 400_000_000
"""Opened pictures that are kept for the next request: about ten of 12 million pixels."""

KEPT_TRACINGS = 4
"""Tracings that are kept without the lines drawn on them, so that dragging a line does not trace anew."""


class Work:
    """Does what the studio asks for, and keeps the pictures that it opened last."""

    def __init__(self) -> None:
        self._pictures: OrderedDict[str, Picture] = OrderedDict()
        self._sheets: OrderedDict[object, Rectified] = OrderedDict()
        self._found: OrderedDict[str, _Found] = OrderedDict()

    @property
    def kept(self) -> list[str]:
        """Digests of the pictures that need not be sent again."""
        return list(self._pictures)

    def do(self, asked: Mapping[str, Any], files: Sequence[bytes]) -> tuple[dict[str, Any], list[bytes]]:
        """Return the answer to a request, with its blocks of bytes.

        Args:
            asked: What to ``do``, and ``photos`` each with its ``name``, ``digest`` and whether it was
                ``sent``; what else depends on what is to be done.
            files: The content of the photographs that were sent.

        Raises:
            InputError: A picture cannot be opened, or what is asked for does not fit it.
        """
        rest = list(files)
        pictures = [
            self._picture(p["name"], p["digest"], rest.pop(0) if p["sent"] else None) for p in asked["photos"]
        ]
        doing: dict[str, Callable[[], tuple[dict[str, Any], list[bytes]]]] = {
            "look": lambda: _look(pictures[0]),
            "unpack": lambda: ({}, [jpeg_of(pictures[0])]),
            "trace": lambda: (self._trace(pictures, asked), []),
            "follow": lambda: (_follow(pictures[0], asked["picked"]), []),
        }
        return doing[asked["do"]]()

    def _picture(self, name: str, digest: str, data: bytes | None) -> Picture:
        kept = self._pictures.pop(digest, None)
        if kept is None:
            if data is None:
                raise KeyError(digest)
            kept = read_picture(data, name)
            while self._pictures and self._bytes() + kept.rgb.nbytes > KEPT_BYTES:
                self._pictures.popitem(last=False)
        self._pictures[digest] = kept
        return replace(kept, name=name)

    def _bytes(self) -> int:
        return sum(picture.rgb.nbytes for picture in self._pictures.values())

    def _trace(self, pictures: Sequence[Picture], asked: Mapping[str, Any]) -> dict[str, Any]:
        lay = read_lay(asked["asked"])
        check_lay(lay)
        done = with_lines(self._find(pictures, lay, asked), lay)
        return {
            **tracing_data(done.tracing, done.findings),
            **_more(done.tracing, lay, done.picture),
            "photo": done.photo,
            **_written(done.tracing, lay, asked["text"], asked["filled"]),
        }

    def _find(self, pictures: Sequence[Picture], lay: Lay, asked: Mapping[str, Any]) -> LayTraced:
        photos = [(p["name"], p["digest"]) for p in asked["photos"]]
        drawn = {k: v for k, v in asked["asked"].items() if k not in {"seams", "edges"}}
        key = json.dumps([photos, drawn], sort_keys=True)

        def sheets(pictures: Sequence[Picture], scale: PrintScale | None) -> Rectified:
            of = (tuple(photos), lay.rulers_mm)
            return _kept(self._sheets, of, lambda: rectify(pictures, scale))

        def found() -> _Found:
            done = find_garment(pictures, lay, sheets=sheets)
            return done.tracing, done.findings, done.photo

        tracing, findings, photo = _kept(self._found, key, found)
        return LayTraced(tracing, pictures[photo], findings, photo)


def _kept(kept: "OrderedDict[Key, Value]", key: Key, make: Callable[[], Value]) -> Value:
    value = kept.pop(key) if key in kept else make()
    kept[key] = value
    while len(kept) > KEPT_TRACINGS:
        kept.popitem(last=False)
    return value


def _look(picture: Picture) -> tuple[dict[str, Any], list[bytes]]:
    height, width = picture.rgb.shape[:2]
    scale = min(1.0, PREVIEW_SIDE / max(width, height))
    size = max(1, round(width * scale)), max(1, round(height * scale))
    small = cv2.resize(picture.rgb, size, interpolation=cv2.INTER_AREA) if scale < 1.0 else picture.rgb
    # only pixels are handed on: the encoder is given nothing else
    done, data = cv2.imencode(
        ".jpg", cv2.cvtColor(small, cv2.COLOR_RGB2BGR), [cv2.IMWRITE_JPEG_QUALITY, PREVIEW_QUALITY]
    )
    if not done:
        raise InputError(Problem("the picture cannot be shown", file=picture.name))
    told = {"width": width, "height": height, "preview_width": size[0], "preview_height": size[1]}
    return told, [data.tobytes()]


def _follow(picture: Picture, picked: object) -> dict[str, Any]:
    points = read_points(picked, "picked", least=2)
    height, width = picture.rgb.shape[:2]
    try:
        path = follow_seam(picture.rgb, [(float(x), float(y)) for x, y in points])
    except ValueError:
        allowed = f"x from 0 to {width - 1}, y from 0 to {height - 1}"
        problem = Problem(
            "a point lies outside the photograph", file=picture.name, key="picked", allowed=allowed
        )
        raise InputError(problem) from None
    return {"path": path.round(2).tolist()}


def _more(traced: Tracing, lay: Lay, picture: Picture) -> dict[str, Any]:
    plane, dip = traced.plane, traced.dip
    scale = None
    if plane is not None:
        scale = round(float(np.median(plane.mm_per_px(traced.outline.px))), 4)
    return {
        "name": traced.name,
        "width": picture.rgb.shape[1],
        "height": picture.rgb.shape[0],
        "face": traced.face,
        "corner_names": list(corner_names(lay.kind, traced.face)) if lay.kind else [],
        "edges": edges_data(traced, lay.placed),
        "seams_px": [seam.round(2).tolist() for seam in traced.seams_px],
        "inner_px": dip.px.round(2).tolist() if dip is not None and len(dip.px) > 1 else [],
        "measures": {key: {"mm": mm, "sigma_mm": sigma} for key, (mm, sigma) in traced.measures.items()},
        "mm_per_px": scale,
    }


def _written(traced: Tracing, lay: Lay, text: str | None, filled: Mapping[str, str]) -> dict[str, Any]:
    """Return the garment file with the tracing in it, in place of what the same photograph gave before."""
    if text is None or lay.kind is None or traced.plane is None:
        return {"text": None, "filled": {}}
    before = without_tracing(text, traced.name, filled) if text else new_garment(lay.kind, "cm")
    height = lay.thickness[0] if lay.thickness else None
    return {"text": with_tracing(before, traced, lay.kind, height), "filled": filled_in(before, traced)}
