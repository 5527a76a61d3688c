from datetime import date

import pytest

from likesewn.cut.cutlist import CutList
from likesewn.publish.pieces import PatternDrawing, pattern_drawing
from publish.sample_cut import TODAY, sample_cut_list


@pytest.fixture(scope="session")
def cut_list() -> CutList:
    return sample_cut_list()


@pytest.fixture(scope="session")
def pattern(cut_list: CutList) -> PatternDrawing:
    return pattern_drawing(cut_list, TODAY)


@pytest.fixture
def today() -> date:
    return TODAY
