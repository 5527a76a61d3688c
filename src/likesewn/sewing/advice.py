"""What holds for every garment: preparing the cloth, what to buy, what to mind.

Common practice, except for the rules named under children's clothes, which are named so that they can be
looked up; nothing here says that a garment meets them.
"""

from collections.abc import Iterable, Sequence

from likesewn.garment import Weight
from likesewn.lay.buy import buy_text, price_text
from likesewn.lay.plan import Plan
from likesewn.sewing.figures import Facts
from likesewn.sewing.plan import Caution, ShoppingItem
from likesewn.sewing.stitches import needle, thread
from likesewn.units import format_length, format_share

__all__ = ["about_cutting", "before_sewing", "cautions", "notes", "shopping", "tools"]


def before_sewing(facts: Facts) -> tuple[str, ...]:
    """Return what to do before the first step."""
    knit = facts.record.fabric.construction == "knit"
    rest = " Let it rest flat overnight if it was rolled tightly." if knit else ""
    straight = "one row of knitting" if knit else "one thread"
    stretch = " Do not stretch the cloth while sewing, except for a band or binding." if knit else ""
    wash = "Wash and dry the cloth the way the garment will be washed, so that it shrinks now and not later."
    trial = (
        "Sew a seam and a hem on a scrap with the settings in the table of stitches. Pull at them by hand,"
    )
    return (
        f"{wash} Read its care label first.{rest}",
        f"Press the cloth, and straighten its ends along {straight}.",
        f"{trial} and adjust until no stitch breaks and the cloth stays flat.{stretch}",
    )


def shopping(facts: Facts, plans: Sequence[Plan]) -> tuple[ShoppingItem, ...]:
    """Return what to buy: cloth for each lay plan that works out, thread and needles."""
    cloth = tuple(_cloth_item(facts, plan) for plan in plans if not plan.stopped)
    stretch = facts.record.fabric.stretch_across
    kind_of_cloth = facts.record.fabric.construction
    if stretch is not None:
        kind_of_cloth += f", stretching by about {format_share(stretch)} across"
    return (
        *cloth,
        ShoppingItem("Kind of cloth", kind_of_cloth[:1].upper() + kind_of_cloth[1:]),
        ShoppingItem("Thread", thread(facts.record)),
        ShoppingItem("Needle", needle(facts.record)),
    )


def _cloth_item(facts: Facts, plan: Plan) -> ShoppingItem:
    name = "Cloth" if plan.cloth_name == "main" else f"Cloth, {plan.cloth_name}"
    unit = facts.record.unit
    whole = 0 if plan.cloth.width_mm % 10 == 0 and unit == "cm" else None
    width = format_length(plan.cloth.width_mm, unit, decimals=whole)
    folding = "laid open" if plan.folding == "open" else plan.folding
    there = plan.cloth.length_mm
    if there is not None:
        amount = f"The {facts.length(there)} of cloth in hand, {width} wide, {folding}"
    else:
        cost = price_text(plan.buy_mm, plan.cloth, unit)
        priced = f" for {cost}" if cost else ""
        amount = f"{buy_text(plan.buy_mm, unit)} of cloth {width} wide{priced}, {folding}"
    return ShoppingItem(name, f"{amount}; the pieces take up {facts.length(plan.length_mm)}")


def tools(facts: Facts) -> tuple[str, ...]:
    """Return what to have at hand."""
    machine = (
        "Overlock machine, and a sewing machine with a zigzag stitch"
        if facts.record.machine == "overlock"
        else "Sewing machine with a zigzag stitch"
    )
    return (
        machine,
        "Shears, or a rotary cutter with its mat",
        "Pins or clips",
        "Tape measure",
        "Chalk or a washable marker",
        "Iron and pressing cloth",
    )


def notes(facts: Facts) -> tuple[str, ...]:
    """Return what was decided at the openings, and the findings that are worth a look."""
    findings = (*facts.pattern.findings, *facts.cut_list.findings)
    return (
        *(rule.message for rule in facts.cut_list.finishes if rule.message),
        *(f"{f.message} {f.todo}".strip() for f in findings if f.weight is not Weight.NOTE),
    )


def about_cutting(plans: Sequence[Plan]) -> tuple[str, ...]:
    """Return what the lay plans ask of the cutting: pieces cut in one go, and stripes to be matched."""
    codes = {"cut-together", "matching-cost"}
    return tuple(f"{f.message} {f.todo}".strip() for plan in plans for f in plan.findings if f.code in codes)


def cautions(facts: Facts) -> tuple[Caution, ...]:
    """Return what to mind, with the rules to look up where the garment is for a child."""
    return (
        Caution(
            "Sharp and hot things",
            "Rotary cutters, pins, needles and irons hurt. Close the blade each time you put the cutter"
            " down, cut away from your fingers, keep pins out of your mouth and count them at the end, and"
            " do not leave a hot iron alone.",
        ),
        *(_for_children() if facts.record.for_child else ()),
        Caution(
            "Copies for sale",
            "A copy for yourself is one thing. Selling copies of a bought garment can infringe design"
            " rights: look up the law where you live before you sell any.",
        ),
    )


def _for_children() -> Iterable[Caution]:
    yield Caution(
        "Clothes for children: cords",
        "Put no cords or drawstrings at the head or neck. Look up EN 14682 in Europe, and ASTM F1816 and"
        " 16 CFR 1120 in the United States.",
    )
    yield Caution(
        "Clothes for children: small parts",
        "Buttons, beads and other small parts can be pulled off and swallowed. Leave them out for small"
        " children, sew the rest on firmly, and cut away loose threads.",
    )
    yield Caution(
        "Clothes for children: nightwear",
        "Nightwear must meet rules on how it burns, whatever it is called. Look up EN 14878 in Europe and"
        " 16 CFR 1615 and 1616 in the United States before you sew anything to sleep in.",
    )
    yield Caution(
        "Clothes for children: your own country",
        "Rules differ from place to place and change. The ones named here are where to start looking; this"
        " plan has not been checked against any of them, and local rules come first.",
    )
