"""Bands and bindings: how long and wide to cut a strip that is stretched on to an opening.

Terms, all round the opening and relaxed. N: length of the pattern's edge line there. e: how far the cloth
reaches beyond that line (the edge's allowance, 0 where a band makes up the height). a: the band's own
allowance, w: its finished width, half the cut width less a. T: total turning of the edge. The seam is
stitched a inside the cloth's edge, so it is N + (a - e) T long, and the band's finished edge lies where a
line of the garment would be N - (w - a + e) T long (design, section 5: a band lies flat when its outer
edge wants to be as short as the curve one band width inside). *Ratio* is the cut length, joining
allowances included, over N; *ring* is the cut length less the two joining allowances.

The trade's ratios (reference, sections 0 and 7): three quarters of the edge for a stretchy jersey, 90 to
95 % at 25 % stretch; between them a straight line; below 25 % the least shortening. Common practice, no
source, but for the example of 16 in cut as 12 in and the range at 25 % stretch, which were read.
"""

from dataclasses import dataclass, replace

from likesewn.cut.allowances import edge_allowances, seam_allowance
from likesewn.cut.cutlist import Band
from likesewn.cut.edges import finish_chosen
from likesewn.cut.opening import Opening
from likesewn.garment import Finding, Kind, Pattern, Record, Weight
from likesewn.garment.kind import FinishKind
from likesewn.units import MM_PER_INCH, format_length, format_share

__all__ = ["Widths", "band_for", "binding_ratio", "strip_widths", "trade_ratio", "usable_stretch"]

STRETCHY, STRETCHY_RATIO = 0.50, 0.75
STABLE, STABLE_RATIO = 0.25, 0.925
FIRM_RATIO = 0.95

BINDING_STRETCHY_RATIO, BINDING_FIRM_RATIO = 0.85, 0.95
"""A binding is stretched less than a band, since its finished edge is the opening's own edge (common
practice, no source)."""

BAND_CUT_WIDTH, BAND_CUT_WIDTH_IN = 50.0, 2.0 * MM_PER_INCH
BINDING_WIDTH = 10.0

ASSUMED_KNIT_STRETCH = 0.50
ASSUMED_BIAS_STRETCH = 0.10
"""Usable stretch where the record gives none: a jersey, and a woven strip cut on the bias (common
practice, no source). Every use of them is told as a finding."""

EASY_RAISE = 0.05
"""A ratio may be raised by this much above the trade's before it is worth a look: the trade's own figures
for one fabric differ by as much (reference, section 7: 70 to 80 % for a rib)."""


LEAST_SHOWN = 3.0
"""Least finished width that can be sewn evenly, mm (common practice, no source)."""

LEAST_RING = 20.0
"""Least ring that can be put under a presser foot, mm (common practice, no source)."""


@dataclass(frozen=True, slots=True)
class Widths:
    """Widths of a strip, mm: as cut, its own seam allowance along the edge, and what shows once sewn."""

    cut_mm: float
    allowance_mm: float
    finished_mm: float


def usable_stretch(record: Record) -> tuple[float, bool]:
    """Return the greatest usable stretch of the fabric, a share, and whether it had to be assumed."""
    known = [s for s in (record.fabric.stretch_across, record.fabric.stretch_along) if s is not None]
    if known:
        return max(known), False
    return (ASSUMED_KNIT_STRETCH if record.fabric.construction == "knit" else ASSUMED_BIAS_STRETCH), True


def trade_ratio(stretch: float) -> float:
    """Return the trade's ratio of a band's cut length to its opening, for a usable stretch (a share)."""
    return _between(stretch, STRETCHY_RATIO, STABLE_RATIO, FIRM_RATIO)


def binding_ratio(stretch: float) -> float:
    """Return the trade's ratio of a binding's cut length to its opening, for a usable stretch."""
    return _between(stretch, BINDING_STRETCHY_RATIO, BINDING_FIRM_RATIO, BINDING_FIRM_RATIO)


def _between(stretch: float, stretchy: float, stable: float, firm: float) -> float:
    if stretch < STABLE:
        return firm
    share = min((stretch - STABLE) / (STRETCHY - STABLE), 1.0)
    return stable + share * (stretchy - stable)


def strip_widths(kind: Kind, finish: FinishKind, record: Record) -> Widths:
    """Return the widths of the strip that finishes an opening, mm.

    A band is folded once and its two raw edges are sewn together; a binding is folded in four, so that
    its allowance is as wide as what shows.
    """
    asked = record.finish_lengths.get(finish.name, {}).get("band_cut_width")
    if finish_chosen(finish, record) == "binding":
        cut = 4.0 * BINDING_WIDTH if asked is None else asked
        return Widths(cut, cut / 4.0, cut / 4.0)
    usual = BAND_CUT_WIDTH_IN if record.unit in {"in", "ft", "yd"} else BAND_CUT_WIDTH
    cut = usual if asked is None else asked
    allowance = seam_allowance(kind, record)
    return Widths(cut, allowance, cut / 2.0 - allowance)


@dataclass(frozen=True, slots=True)
class _Reach:
    """What bounds the ring, mm: the seam and the flat edge all round, and what the fabric and body ask."""

    seam: float
    flat: float
    stretch: float
    joining: float
    edge: float

    def ratio(self, ring: float) -> float:
        return (ring + 2.0 * self.joining) / self.edge

    def ring(self, ratio: float) -> float:
        return ratio * self.edge - 2.0 * self.joining


def band_for(
    pattern: Pattern, opening: Opening, record: Record, body_mm: float | None
) -> tuple[Band, tuple[Finding, ...]]:
    """Return the band or binding for an opening.

    Args:
        pattern: The pattern as it will be cut.
        opening: The opening.
        record: The record, for fabric, widths and the sewist's own ratio.
        body_mm: Girth that the opening must pass, mm, or None.

    Returns:
        The strip, and findings about its ratio, its widths and what they assume.
    """
    finish = opening.finish
    binding = finish_chosen(finish, record) == "binding"
    widths = strip_widths(pattern.kind, finish, record)
    stretch, assumed = usable_stretch(record)
    place = opening.run[0][0]
    beyond = edge_allowances(pattern, place.piece, record)[place.edge.name]
    inside = widths.allowance_mm - beyond
    edge = opening.length_mm
    reach = _Reach(
        seam=opening.inside_garment(inside),
        # the fold of a binding lies on the cloth's edge, that of a band its finished width inside its seam
        flat=opening.inside_garment(-beyond if binding else inside - widths.finished_mm),
        stretch=stretch,
        joining=seam_allowance(pattern.kind, record),
        edge=edge,
    )
    trade = (binding_ratio if binding else trade_ratio)(stretch)
    bound = reach.ratio(reach.flat)
    asked = record.finish_lengths.get(finish.name, {}).get("band_ratio")
    title = f"{finish.title} {'binding' if binding else 'band'}"
    ratio, findings = _choose(f"the {title.lower()}", reach, (trade, bound), asked, body_mm)
    ring = reach.ring(ratio)
    band = Band(
        name=finish.band,
        title=title,
        edge_mm=edge,
        ratio=ratio,
        trade_ratio=trade,
        bound_ratio=bound,
        cut_length_mm=ratio * edge,
        cut_width_mm=widths.cut_mm,
        finished_width_mm=widths.finished_mm,
        allowance_mm=widths.allowance_mm,
        ring_mm=ring,
        strain=reach.seam / max(ring, LEAST_RING) - 1.0,
        quarter_ahead_mm=opening.quarter_ahead_mm,
        quarters_mm=opening.quarters_mm,
    )
    findings += _widths_findings(band, record)
    if assumed:
        findings.append(_assumed(record, stretch))
    if record.fabric.construction == "woven":
        findings.append(
            Finding(
                "bias-strip",
                Weight.NOTE,
                "",
                "This cloth is woven, so the strip is cut on the bias, where it gives.",
            )
        )
    return band, tuple(replace(finding, where=band.title) for finding in findings)


def _choose(
    band: str, reach: _Reach, ratios: tuple[float, float], asked: float | None, body_mm: float | None
) -> tuple[float, list[Finding]]:
    trade, bound = ratios
    findings: list[Finding] = []
    least = reach.ratio(reach.seam / (1.0 + reach.stretch))
    passing = least if body_mm is None else reach.ratio(body_mm / (1.0 + reach.stretch))
    if asked is not None:
        if asked < least - 1e-9:
            findings.append(
                _look(
                    "band-strain",
                    f"At {format_share(asked)} of the edge {band} must stretch further than this fabric's "
                    f"{format_share(reach.stretch)} to reach round the opening.",
                    asked,
                    least,
                    f"Cut it at {format_share(least)} of the edge or more.",
                )
            )
        if asked > bound + 1e-9:
            findings.append(_stands(band, asked, bound))
        return asked, findings
    # a ring that passes over the body only by standing away from the edge is no gain: see ``body``
    ratio = max(min(trade, bound), least, min(passing, bound))
    if ratio > min(trade, bound) + 1e-9:
        why = "stretch further than this fabric can" if ratio == least else "not pass over the body"
        if ratio == bound < passing:
            why = "pass over the body even less"
        look = ratio == least and least - trade > EASY_RAISE
        findings.append(
            Finding(
                "band-longer",
                Weight.LOOK if look else Weight.NOTE,
                "",
                f"{band.capitalize()} is cut at {format_share(ratio)} of the edge, where "
                f"{format_share(trade)} is usual: a shorter one would {why}, at a usable stretch of "
                f"{format_share(reach.stretch)}.",
                ratio,
                trade,
                "share",
                "For a closer one use a stretchier fabric, such as a rib." if look else "",
            )
        )
    if ratio > bound + 1e-9:
        findings.append(_stands(band, ratio, bound))
    return ratio, findings


def _look(code: str, message: str, amount: float, limit: float, todo: str) -> Finding:
    return Finding(code, Weight.LOOK, "", message, amount, limit, "share", todo)


def _stands(band: str, ratio: float, bound: float) -> Finding:
    return _look(
        "band-stands-away",
        f"At {format_share(ratio)} of the edge {band} is longer than the line on which it should lie "
        f"({format_share(bound)}), so it will stand away.",
        ratio,
        bound,
        "Use a stretchier fabric, a narrower band, or a facing.",
    )


def _widths_findings(band: Band, record: Record) -> list[Finding]:
    found: list[Finding] = []
    width, allowance, shown, length = (
        format_length(max(mm, 0.0), record.unit)
        for mm in (band.cut_width_mm, band.allowance_mm, band.finished_width_mm, band.cut_length_mm)
    )
    the = f"The {band.title.lower()}"
    if band.finished_width_mm < LEAST_SHOWN:
        message = f"{the} cut {width} wide with an allowance of {allowance} would show {shown}."
        limits = (band.finished_width_mm, LEAST_SHOWN)
        found.append(Finding("band-too-narrow", Weight.STOP, "", message, *limits, "mm", "Cut it wider."))
    if band.ring_mm < LEAST_RING:
        message = f"{the} cut {length} long is used up by the joining of its ends."
        limits = (band.ring_mm, LEAST_RING)
        found.append(Finding("band-too-short", Weight.STOP, "", message, *limits, "mm", "Cut it longer."))
    return found


def _assumed(record: Record, stretch: float) -> Finding:
    what = "a jersey" if record.fabric.construction == "knit" else "a woven strip cut on the bias"
    return Finding(
        "stretch-assumed",
        Weight.NOTE,
        "",
        f"The fabric's stretch was not given; {what} that stretches by {format_share(stretch)} was assumed.",
        stretch,
        None,
        "share",
        "Fold the fabric crosswise, mark 10 cm (4 in), pull to a comfortable limit, and give the stretch.",
    )
