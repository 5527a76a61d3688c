from dataclasses import replace

import pytest

from lay.hand_pieces import cut_list as cutting
from lay.hand_pieces import rectangle, top
from likesewn.errors import InputError
from likesewn.garment import Cloth
from likesewn.lay import Choices, Effort, fit_on, rank_foldings, verify, which_cloths

QUICK = Effort(steps=40)
PAIRS = (("front", "back"),)


def test_cloth_that_takes_the_garment_says_what_is_to_spare():
    fit = fit_on(top(), "linen", Cloth(1500, "folded", length_mm=1600), Choices(effort=QUICK))
    assert fit.fits
    assert fit.remedies == ()
    assert fit.spare_mm == pytest.approx(1600 - fit.plan.length_mm)


def test_cloth_that_is_too_short_says_what_would_make_it_fit():
    cloth = Cloth(1500, "folded", length_mm=1390)
    fit = fit_on(top(), "linen", cloth, Choices(effort=QUICK, pairs=PAIRS))
    assert not fit.fits
    assert fit.spare_mm is None
    messages = [remedy.message for remedy in fit.remedies]
    assert "It fits with the cloth laid open." in messages
    shorter = next(remedy for remedy in fit.remedies if "shorter" in remedy.message)
    assert shorter.message == "It fits with the front and back 1.0 cm shorter."
    # The remedy holds: bodies shorter by so much do fit.
    trial = top(length=695 - shorter.amount)
    sleeves = [its for its in top().pieces if its.name in {"sleeve", "neckband"}]
    bodies = [its for its in trial.pieces if its.name in {"front", "back"}]
    assert fit_on(cutting(*bodies, *sleeves), "linen", cloth, Choices(effort=QUICK)).fits


def test_a_piece_from_another_cloth_is_proposed():
    pieces = cutting(rectangle("panel", 400, 500), rectangle("band", 380, 50))
    fit = fit_on(pieces, "rest", Cloth(410, "open", length_mm=520), Choices(effort=QUICK))
    assert "It fits without the band." in [remedy.message for remedy in fit.remedies]


def test_pieces_too_wide_for_the_cloth_are_pieced_at_the_corners():
    fit = fit_on(top(), "narrow", Cloth(500, "open", length_mm=6000), Choices(effort=QUICK))
    assert not fit.fits
    (pieced,) = [remedy for remedy in fit.remedies if "pieced on" in remedy.message]
    assert "front and back" in pieced.message
    assert pieced.amount == 40


def test_cloths_are_ranked_by_what_they_leave_over():
    cloths = {
        "long": Cloth(1500, "folded", length_mm=3000),
        "short": Cloth(1500, "folded", length_mm=700),
        "right": Cloth(1500, "folded", length_mm=1450),
    }
    fits = which_cloths(top(), cloths, Choices(effort=QUICK))
    assert [fit.name for fit in fits] == ["right", "long", "short"]
    assert [fit.fits for fit in fits] == [True, True, False]


def test_every_cloth_that_is_described_amiss_is_told():
    with pytest.raises(InputError) as refused:
        which_cloths(top(), {"one": Cloth(-1), "other": Cloth(1500, "in half")})
    assert [problem.key for problem in refused.value.problems] == ["cloth.one.width", "cloth.other.folding"]


def test_foldings_are_ranked_with_their_reasons():
    ranked = rank_foldings(top(), "main", Cloth(1500), Choices(effort=QUICK, pairs=PAIRS))
    bought = [one.plan.buy_mm for one in ranked if not one.plan.stopped]
    assert bought == sorted(bought)
    by_name = {one.folding: one for one in ranked}
    assert "front and back in one cut" in by_name["folded twice"].reason
    assert by_name["folded twice"].cuts == min(one.cuts for one in ranked if not one.plan.stopped)
    assert by_name["open"].reason.startswith("laid open: ")
    for one in ranked:
        assert verify(one.plan, top()) == ()


def test_a_folding_that_takes_no_pieces_comes_last_with_the_reason():
    ranked = rank_foldings(top(), "main", replace(Cloth(1500), nap=True), Choices(effort=QUICK))
    assert ranked[-1].folding == "crosswise"
    assert "nap" in ranked[-1].reason
