"""Checking a lay plan from scratch.

Nothing here is shared with the search: outlines are built again from the cut list, and every copy is followed
back from the folded cloth to the cloth laid flat. A plan without findings has every copy of every piece, each
of its true shape and with its grain as it may lie, whole and inside the cloth and clear of its flaws, none
over another in the same layer, halves on a fold, pairs mirrored, and all one way up where the cloth has nap.
"""

import math
from collections.abc import Iterator, Mapping, Sequence

from shapely import LineString, Polygon, STRtree, get_parts, make_valid, union_all
from shapely.affinity import rotate, scale, translate

from likesewn.cut.cutlist import CutList, CutPiece
from likesewn.garment import Finding
from likesewn.garment.matching import MatchPoint
from likesewn.lay.plan import Placed, Plan
from likesewn.lay.verify_cloth import beside_stripes, on_flaws, unmatched
from likesewn.lay.wrong import OVERLAP, folds, wrong

__all__ = ["verify"]

PLACE = 0.01
"""Distance within which an outline lies where it should, mm: well below a chalk line's width."""

TURN = 1e-6
"""Angle by which a piece may lie off an angle that is allowed, degrees."""

SHAPE = 0.1
"""Greatest distance between a placed outline and its piece's, mm."""

HAIR = 1e-3
"""Width by which halves are widened to be joined, mm."""

LEAST_SAME = 0.999
"""Share of two outlines' joint area that they must have in common to count as the same shape."""


LAYERS = {"open": 1, "folded twice": 4}
"""Layers of cloth by folding, where they are not two."""


def verify(
    plan: Plan,
    cut_list: CutList,
    leans: Mapping[str, Sequence[float]] | None = None,
    points: Sequence[MatchPoint] = (),
) -> tuple[Finding, ...]:
    """Return everything that is wrong with a plan; empty when it can be cut as it stands.

    Args:
        plan: The plan. One that already says that its pieces do not fit is not checked further.
        cut_list: The cut list that it was made from.
        leans: Angles off the grain at which a piece may lie besides 0, degrees, by piece.
        points: Points at which the cloth's stripes can be matched; those that it names are checked.
    """
    if plan.stopped:
        return ()
    pieces = {piece.name: piece for piece in cut_list.pieces if piece.cloth == plan.cloth_name}
    found = list(_strangers(plan, pieces))
    known = [(placed, pieces[placed.piece]) for placed in plan.placed if placed.piece in pieces]
    shapes = [Polygon(placed.outline) for placed, _ in known]
    found += _cloth(plan)
    for (placed, piece), shape in zip(known, shapes, strict=True):
        found += _outline(plan, placed, piece, shape, (leans or {}).get(piece.name, ()))
        found += _inside(plan, placed, shape)
    found += on_flaws(plan, [placed for placed, _ in known], shapes)
    for piece in pieces.values():
        found += _copies(plan, piece, [placed for placed, its in known if its is piece])
    found += _overlaps([placed for placed, _ in known], shapes)
    found += _one_way_up(plan)
    unmet = {f.message for f in plan.findings if f.code == "unmatched"}
    for point in points:
        if point.name in plan.cloth.match and not any(point.name in message for message in unmet):
            found += unmatched(plan, point, known)
    found += beside_stripes(plan, known)
    found += _figures(plan, pieces)
    return tuple(found)


def _strangers(plan: Plan, pieces: dict[str, CutPiece]) -> Iterator[Finding]:
    for placed in plan.placed:
        if placed.piece not in pieces:
            yield wrong(
                "lay-stranger",
                placed.piece,
                f"The plan places {placed.piece!r}, which is not cut from this cloth.",
            )


def _layers(plan: Plan) -> int:
    return LAYERS.get(plan.folding, 2)


def _width(plan: Plan) -> float:
    """Return the width of the cloth as it lies, mm."""
    width = plan.cloth.width_mm
    shares = {"open": 1.0, "crosswise": 1.0, "folded twice": 0.25}
    if plan.folding == "part fold":
        return width - plan.fold_depth_mm
    return width * shares.get(plan.folding, 0.5)


def _cloth(plan: Plan) -> Iterator[Finding]:
    layers, width = _layers(plan), _width(plan)
    if plan.layers != layers or abs(plan.width_mm - width) > PLACE:
        yield wrong(
            "lay-cloth",
            "cloth",
            f"Cloth {plan.cloth.width_mm:g} mm wide and folded as {plan.folding!r} lies in {layers} layers"
            f" {width:g} mm wide; the plan has {plan.layers} layers {plan.width_mm:g} mm wide.",
            amount=plan.width_mm,
            limit=width,
        )
    depth = plan.fold_depth_mm
    if not 0 <= depth <= plan.cloth.width_mm / 2 or (depth > 0) != (plan.folding == "part fold"):
        yield wrong(
            "lay-cloth",
            "cloth",
            f"A fold {depth:g} mm deep does not go with cloth {plan.cloth.width_mm:g} mm wide"
            f" folded as {plan.folding!r}.",
            amount=depth,
            limit=plan.cloth.width_mm / 2,
        )


def _outline(
    plan: Plan, placed: Placed, piece: CutPiece, shape: Polygon, leans: Sequence[float]
) -> Iterator[Finding]:
    """Yield what is wrong with one outline's shape, grain and place on the fold."""
    if not shape.is_valid or shape.area <= 0:
        yield wrong("lay-shape", placed.piece, "The outline crosses itself or has no area.")
        return
    off = min(abs(math.remainder(placed.turned - lean, 180)) for lean in (0.0, *leans))
    if off > TURN or (placed.on_fold and abs(math.remainder(placed.turned, 180)) > TURN):
        yield wrong(
            "lay-grain",
            placed.piece,
            f"The grain lies {placed.turned:g} degrees off the length of the cloth.",
            amount=float(placed.turned),
            limit=0.0,
            unit="degree",
        )
        return
    whole = _along_cloth(piece, turned=placed.turned, mirrored=placed.mirrored)
    if not placed.on_fold:
        yield from _same_shape(placed, shape, whole)
        return
    low, high = shape.bounds[1], shape.bounds[3]
    fold = next(
        (y for y in folds(plan) if (abs(low - y) <= PLACE and not y) or (abs(high - y) <= PLACE and y)), None
    )
    if fold is None:
        yield wrong(
            "lay-fold",
            placed.piece,
            f"The half lies {low:.2f} mm away from the fold.",
            amount=float(low),
            limit=PLACE,
        )
        return
    # Opened out about the fold of the cloth, the half must be the whole piece; a piece that differs on its
    # two sides is found out by the same comparison.
    yield from _same_shape(placed, _joined(shape, scale(shape, 1, -1, origin=(0, fold))), whole)


def _along_cloth(piece: CutPiece, *, turned: float, mirrored: bool) -> Polygon:
    """Return the whole piece with its grain along x, turned and mirrored as stated, least x and y at 0."""
    shape = Polygon(piece.outline())
    if piece.on_fold:
        shape = _joined(shape, scale(shape, -1, 1, origin=(0, 0)))
    grain = piece.grain.end - piece.grain.start
    angle = math.degrees(math.atan2(float(grain[1]), float(grain[0])))
    if angle < 0:
        angle += 180  # a grain line may be drawn from either end; the piece's own downward is meant
    lying = rotate(shape, -angle, origin=(0, 0))
    if mirrored:
        lying = scale(lying, 1, -1, origin=(0, 0))
    if turned:
        lying = rotate(lying, turned, origin=(0, 0))
    return _at_zero(lying)


def _joined(half: Polygon, other: Polygon) -> Polygon:
    """Return two halves as one; where they do not meet, the larger of the parts."""
    # A strip along the line between the halves closes it against rounding; thin points elsewhere stay whole.
    strip = half.buffer(HAIR).intersection(other.buffer(HAIR))
    whole = union_all([make_valid(half), make_valid(other), strip])  # an outline may cross itself
    parts = [part for part in get_parts(whole) if isinstance(part, Polygon)]
    return max(parts, key=lambda part: part.area)


def _at_zero(shape: Polygon) -> Polygon:
    return translate(shape, -shape.bounds[0], -shape.bounds[1])


def _common(a: Polygon, b: Polygon) -> float:
    """Return the share of two shapes' joint area that both have."""
    return a.intersection(b).area / a.union(b).area


def _same_shape(placed: Placed, shape: Polygon, wanted: Polygon) -> Iterator[Finding]:
    there = _at_zero(shape)
    apart = float(there.exterior.hausdorff_distance(wanted.exterior))
    if apart <= SHAPE:
        return
    if any(_common(there, _at_zero(rotate(wanted, angle))) > LEAST_SAME for angle in (90, -90)):
        yield wrong(
            "lay-grain",
            placed.piece,
            "The grain lies across the cloth instead of along it.",
            amount=90.0,
            limit=0.0,
            unit="degree",
        )
    else:
        yield wrong(
            "lay-shape",
            placed.piece,
            f"The outline is up to {apart:.2f} mm away from the piece turned and mirrored as stated.",
            amount=apart,
            limit=SHAPE,
        )


def _inside(plan: Plan, placed: Placed, shape: Polygon) -> Iterator[Finding]:
    left, low, right, high = shape.bounds
    width = _width(plan)
    long = plan.length_mm / (2 if plan.folding == "crosswise" else 1)
    if plan.cloth.length_mm is not None:
        long = min(long, plan.cloth.length_mm / (2 if plan.folding == "crosswise" else 1))
    if plan.folding == "part fold" and 1 in range(placed.top, placed.top + placed.layers):
        width = plan.fold_depth_mm  # the flap reaches no further
    over = max(-left, -low, right - long, high - width)
    if over > PLACE:
        yield wrong(
            "lay-outside",
            placed.piece,
            f"The outline reaches {over:.2f} mm beyond the cloth.",
            amount=over,
            limit=0.0,
        )
    if plan.folding == "selvages to the middle" and placed.top == 1:
        middle = LineString([(left - 1, width / 2), (right + 1, width / 2)])
        if min(high - width / 2, width / 2 - low) > PLACE and shape.intersects(middle):
            yield wrong(
                "lay-outside",
                placed.piece,
                "The outline lies across the gap between the two selvages.",
            )


def _copies(plan: Plan, piece: CutPiece, placed: list[Placed]) -> Iterator[Finding]:
    cut = 0
    for one in placed:
        there = _layers(plan)
        allowed = tuple(n for n in (1, 2, 4) if n <= there and not (one.on_fold and n == 1)) or (0,)
        if one.layers not in allowed or one.top < 1 or one.top + one.layers - 1 > there:
            yield wrong(
                "lay-layers",
                piece.name,
                f"The outline is cut through {one.layers} layers, which this cloth and place do not have.",
                amount=float(one.layers),
                limit=float(allowed[-1]),
                unit="",
            )
        cut += _yield(one)
    if cut != piece.copies:
        yield wrong(
            "lay-copies",
            piece.name,
            f"The plan cuts {cut} of {piece.name}; {piece.copies} are needed.",
            amount=float(cut),
            limit=float(piece.copies),
            unit="",
        )
    if piece.on_fold and piece.copies == 1 and folds(plan) and not any(one.on_fold for one in placed):
        grain = piece.grain.end - piece.grain.start
        if abs(float(grain[0])) <= 0.01 * abs(float(grain[1])):
            yield wrong("lay-fold", piece.name, f"{piece.name} is cut on the fold, and no half lies on it.")
    numbers = sorted(number for one in placed for number in range(one.copy, one.copy + _yield(one)))
    if numbers != list(range(1, cut + 1)):
        yield wrong("lay-copies", piece.name, f"The copies are numbered {numbers}.")
    yield from _mirrored(piece, placed)


def _yield(one: Placed) -> int:
    return one.layers // 2 if one.on_fold else one.layers


def _mirrored(piece: CutPiece, placed: list[Placed]) -> Iterator[Finding]:
    """Yield a finding where left and right copies do not come in pairs; a lone copy lies face up."""
    single = [one for one in placed if not one.on_fold and one.layers == 1]
    face_down = sum(one.mirrored for one in single)
    face_up = len(single) - face_down
    up = _along_cloth(piece, turned=0, mirrored=False)
    if face_up - face_down not in (0, 1) and _common(up, scale(up, 1, -1, origin="center")) < LEAST_SAME:
        yield wrong(
            "lay-pairs",
            piece.name,
            f"{face_up} copies lie face up and {face_down} face down; pairs need one of each.",
            amount=float(face_down),
            limit=float(len(single) // 2),
            unit="",
        )


def _overlaps(placed: list[Placed], shapes: list[Polygon]) -> Iterator[Finding]:
    valid = [(one, shape) for one, shape in zip(placed, shapes, strict=True) if shape.is_valid]
    if not valid:
        return
    tree = STRtree([shape for _, shape in valid])
    for i, (one, shape) in enumerate(valid):
        for j in (int(index) for index in tree.query(shape, predicate="intersects")):
            if j <= i:
                continue
            other, its = valid[j]
            shared = shape.intersection(its).area
            apart = one.top + one.layers <= other.top or other.top + other.layers <= one.top
            if shared <= OVERLAP or apart:
                continue
            yield wrong(
                "lay-overlap",
                f"{one.piece}, {other.piece}",
                f"The two outlines lie over each other by {shared:.2f} mm2.",
                amount=shared,
                limit=OVERLAP,
                unit="mm2",
            )


def _one_way_up(plan: Plan) -> Iterator[Finding]:
    if not plan.cloth.nap:
        return
    if plan.folding == "crosswise" or len({math.cos(math.radians(p.turned)) > 0 for p in plan.placed}) > 1:
        yield wrong("lay-nap", "cloth", "The cloth has nap, and not all pieces lie the same way up.")


def _figures(plan: Plan, pieces: dict[str, CutPiece]) -> Iterator[Finding]:
    """Yield a finding where the plan's own figures do not follow from the pieces and the cloth."""
    area = 0.0
    for piece in pieces.values():
        area += Polygon(piece.outline()).area * (2 if piece.on_fold else 1) * piece.copies
    bound = area / plan.cloth.width_mm
    if abs(plan.bound_mm - bound) > 1e-6 * max(bound, 1.0):
        yield wrong(
            "lay-figures",
            "bound",
            f"The bound should be {bound:.3f} mm.",
            amount=plan.bound_mm,
            limit=bound,
        )
    if plan.length_mm > 0 and abs(plan.used_fraction * plan.length_mm - bound) > 1e-6 * max(bound, 1.0):
        yield wrong(
            "lay-figures",
            "used share",
            f"The share of the cloth used should be {bound / plan.length_mm:.4f}.",
            amount=plan.used_fraction,
            limit=bound / plan.length_mm,
            unit="share",
        )
    if plan.buy_mm < plan.length_mm:
        yield wrong(
            "lay-figures",
            "length to buy",
            "The length to buy is shorter than the lay.",
            amount=plan.buy_mm,
            limit=plan.length_mm,
        )
