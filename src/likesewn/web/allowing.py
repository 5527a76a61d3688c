"""Allowances one edge at a time: under which keys of the garment file one may be given, and for what."""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any, Literal, TypeAlias

from likesewn.cut import CutPiece
from likesewn.cut.edges import Place, finish_at, is_turned
from likesewn.garment import Edge
from likesewn.garment.editing import Change
from likesewn.garment.keys import file_tables
from likesewn.web.desk import Opened

__all__ = ["EdgeAllowance", "Scope", "edge_allowances"]

Scope: TypeAlias = Literal["own", "named", "seam", "hem"]
"""What an allowance holds for: this edge of this piece, every edge of its name, or its group."""


@dataclass(frozen=True, slots=True)
class EdgeAllowance:
    """The allowance of one edge.

    Attributes:
        id: ``piece.edge``.
        piece: The piece's title.
        edge: The edge's name.
        mm: The allowance, mm.
        scopes: What a new one may be given for, the narrowest first; none where it follows from others.
        given: The scope that it comes from now, or empty where it is the usual one.
        alike: Edges of this name, each ``piece.edge``.
    """

    id: str
    piece: str
    edge: str
    mm: float
    scopes: tuple[Scope, ...]
    given: str = ""
    alike: tuple[str, ...] = ()

    def changes(self, raw: Mapping[str, Any], scope: str, value: Change) -> dict[str, Change]:
        """Return what to change in the garment file so that an allowance holds for a scope.

        Keys that would hold against it, since they are narrower, go.

        Args:
            raw: The garment file as TOML has it.
            scope: One of ``scopes``.
            value: The allowance as typed; None for the usual one.
        """
        own, named = self.id, self.edge
        keys = {"own": own, "named": named, "seam": "seam", "hem": "hem"}
        # whether they are there or not: another change may be on its way
        narrower = {"own": (), "named": self.alike}.get(scope, (own, named))
        changes: dict[str, Change] = {
            dotted: None for key in narrower if key != keys[scope] for dotted in _places(key)
        }
        changes[_dotted(keys[scope], raw)] = value
        return changes


def edge_allowances(opened: Opened) -> tuple[EdgeAllowance, ...]:
    """Return the allowance of every edge that is cut, piece by piece; none where nothing is cut."""
    stages, kind = opened.cut(), opened.kind
    if stages is None or kind is None:
        return ()
    tables = {table.name: table for table in file_tables(kind, ())}
    known = frozenset(key.name for key in tables["allowances"].keys)
    return tuple(
        _edge_allowance(opened, piece, edge, known)
        for piece in stages.cut_list.pieces
        for edge in piece.seam
        if not edge.fold
    )


def _edge_allowance(opened: Opened, piece: CutPiece, edge: Edge, known: frozenset[str]) -> EdgeAllowance:
    trued, record = opened.trued(), opened.record
    name = f"{piece.name}.{edge.name}"
    plain = EdgeAllowance(name, piece.title, edge.name, piece.allowances.get(edge.name, 0.0), ())
    if trued is None or record is None:
        return plain
    patterns = {one.name: one for one in trued.pattern.pieces}
    if piece.name not in patterns:
        return plain
    scopes: list[Scope] = []
    if name in known:
        scopes.append("own")
    place = Place(patterns[piece.name], edge)
    group: Scope | None = None
    if finish_at(trued.pattern.kind, place) is None:
        group = "hem" if is_turned(trued.pattern.kind, place, record) else "seam"
    if edge.name in known and edge.name != group:
        scopes.append("named")
    if group:
        scopes.append(group)
    keys = {"own": name, "named": edge.name}
    given = next((scope for scope in scopes if keys.get(scope, scope) in record.allowances), "")
    alike = tuple(
        f"{one.name}.{edge.name}" for one in trued.pattern.pieces if f"{one.name}.{edge.name}" in known
    )
    return replace(plain, scopes=tuple(scopes), given=given, alike=alike)


def _places(key: str) -> tuple[str, ...]:
    """Return every dotted key that an allowance may stand under."""
    piece, _, edge = key.partition(".")
    return (f'allowances."{key}"', f"allowances.{piece}.{edge}") if edge else (f"allowances.{key}",)


def _dotted(key: str, raw: Mapping[str, Any]) -> str:
    """Return the dotted key of an allowance, as the file has it where it is there already."""
    piece, _, edge = key.partition(".")
    if not edge:
        return f"allowances.{key}"
    table = raw.get("allowances", {})
    if isinstance(table, dict) and isinstance(table.get(piece), dict):
        return f"allowances.{piece}.{edge}"
    return f'allowances."{key}"'
