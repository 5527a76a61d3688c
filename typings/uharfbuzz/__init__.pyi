# What likesewn uses of uharfbuzz, which comes without types of its own.

from collections.abc import Iterable, Mapping
from enum import IntEnum, IntFlag

class HarfBuzzError(Exception): ...

class Blob:
    data: bytes
    def __init__(self, data: bytes | None = None) -> None: ...
    @classmethod
    def from_file_path(cls, filename: str) -> Blob: ...

class OTNameIdPredefined(IntEnum):
    POSTSCRIPT_NAME = ...

class OTVarAxisInfo:
    tag: str

class Face:
    blob: Blob
    count: int
    upem: int
    table_tags: list[str]
    unicodes: Iterable[int]
    axis_infos: list[OTVarAxisInfo]
    def __init__(self, blob: Blob | bytes | None = None, index: int = 0) -> None: ...
    def get_name(self, name_id: int, language: str | None = None) -> str | None: ...
    def reference_table(self, tag: str) -> Blob: ...

class FontExtents:
    ascender: int
    descender: int

class Font:
    scale: tuple[int, int]
    def __init__(self, face_or_font: Face | Font) -> None: ...
    def set_variations(self, variations: Mapping[str, float]) -> None: ...
    def get_glyph_h_advance(self, gid: int) -> int: ...
    def get_nominal_glyph(self, unicode: int) -> int | None: ...
    def get_font_extents(self, direction: str) -> FontExtents: ...

class BufferClusterLevel(IntEnum):
    MONOTONE_CHARACTERS = ...

class GlyphInfo:
    codepoint: int
    cluster: int

class GlyphPosition:
    x_advance: int
    x_offset: int
    y_offset: int

class Buffer:
    cluster_level: BufferClusterLevel
    direction: str
    glyph_infos: list[GlyphInfo]
    glyph_positions: list[GlyphPosition]
    def add_str(self, text: str) -> None: ...
    def guess_segment_properties(self) -> None: ...

def shape(font: Font, buffer: Buffer, features: Mapping[str, bool] | None = None) -> None: ...

class SubsetFlags(IntFlag):
    RETAIN_GIDS = ...
    NO_LAYOUT_CLOSURE = ...
    CFF_IDENTITY_CHARSET = ...
    DOWNGRADE_CFF2 = ...

class Set:
    def update(self, other: Iterable[int]) -> None: ...

class SubsetInput:
    glyph_set: Set
    drop_table_tag_set: Set
    flags: SubsetFlags
    def pin_all_axes_to_default(self, face: Face) -> bool: ...
    def pin_axis_location(self, face: Face, tag: str, value: float) -> bool: ...

def subset(face: Face, input: SubsetInput) -> Face: ...  # noqa: A002
