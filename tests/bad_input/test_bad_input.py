from pathlib import Path

import pytest

from bad_input.cases import GOOD, POINTS, cases
from likesewn.errors import InputError
from likesewn.garment import read_garment

EXPECTED = Path(__file__).parent / "expected"
CASES = cases()


def test_the_good_file_is_good():
    assert read_garment(GOOD + POINTS).name == "Kiln apron top"


def test_every_expectation_has_its_case():
    assert {path.stem for path in EXPECTED.iterdir()} == set(CASES)


@pytest.mark.parametrize("name", CASES)
def test_the_exact_message(name):
    with pytest.raises(InputError) as caught:
        read_garment(CASES[name], f"{name}.toml")
    assert f"{caught.value}\n" == (EXPECTED / f"{name}.txt").read_text(encoding="utf-8")
