"""The trade's rule for the length of cloth, body length plus sleeve length, beside the plan for twenty tops.

Run as ``python -m benchmarks.lay.rule``.
"""

from benchmarks.lay.garments import garments
from likesewn.garment import Cloth
from likesewn.lay import buy_length, rank_foldings
from likesewn.lay.shapes import shape_of

WIDTH = 1460.0
"""Usable width of cloth of 150 cm, selvages off, mm."""

ALLOWANCES = 35.0
"""What a piece's cut length has more than its finished length, seam and hem, mm."""


def main() -> None:
    """Print the table: the first twenty garments with long sleeves or short ones."""
    made = {name: cuts for name, cuts in garments().items() if not name.startswith("shaped")}
    print(
        "| Top | Rule, cm | Folded, cm | Best, cm | Best folding | Buy by the rule, m | Buy by the plan, m |"
    )
    print("|---|---|---|---|---|---|---|")
    for name, cuts in list(made.items())[:20]:
        lengths = {piece.name: shape_of(piece).whole[:, 0].max() - ALLOWANCES for piece in cuts.pieces}
        bodies = [
            mm for piece, mm in lengths.items() if cuts.piece(piece).copies == 1 and cuts.piece(piece).on_fold
        ]
        rule = max(bodies) + next(mm for piece, mm in lengths.items() if cuts.piece(piece).copies == 2)
        ranked = rank_foldings(cuts, "main", Cloth(WIDTH))
        folded = next(one.plan for one in ranked if one.folding == "folded")
        best = ranked[0].plan
        print(
            f"| {name} | {rule / 10:.0f} | {folded.length_mm / 10:.0f} | {best.length_mm / 10:.0f}"
            f" | {best.folding} | {buy_length(rule, 'cm') / 1000:.1f} | {best.buy_mm / 1000:.1f} |"
        )


if __name__ == "__main__":
    main()
