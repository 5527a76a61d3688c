"""The step's matrix filled in place, against the same sums made of dense matrices."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import sparse

from entries import Entries
from likesewn.truing.matrices import DUAL, StepMatrix, by_rows, merged, spread
from tops import dense


def random_rows(rng: np.random.Generator, count: int, size: int) -> np.ndarray:
    return rng.normal(size=(count, size)) * (rng.random((count, size)) < 0.3)


@settings(max_examples=60, derandomize=True, deadline=None)
@given(
    seed=st.integers(0, 2**32 - 1),
    size=st.integers(1, 14),
    widths=st.lists(st.integers(1, 5), max_size=3),
    observed=st.integers(0, 6),
    conditions=st.integers(0, 4),
    damping=st.sampled_from([0.0, 1e-3, 10.0]),
)
def test_sums_and_solutions(seed, size, widths, observed, conditions, damping):
    rng = np.random.default_rng(seed)
    # columns repeat within a block, and -1 stands for none
    columns = [rng.integers(-1, size, (int(rng.integers(0, 5)), width)) for width in widths]
    blocks = [rng.normal(size=(len(at), at.shape[1], at.shape[1])) for at in columns]
    blocks = [block + block.transpose(0, 2, 1) for block in blocks]
    A, C, P = (random_rows(rng, count, size) for count in (observed, conditions, size + 1))
    of = StepMatrix(size, columns, Entries.of(A), Entries.of(C), sparse.csr_array(P))
    wanted = np.zeros((size + 1, size + 1))  # the last row and column are of none
    for at, block in zip(columns, blocks, strict=True):
        for where, values in zip(at, block, strict=True):
            np.add.at(wanted, (where[:, None], where), values)
    wanted = wanted[:-1, :-1] + A.T @ A + 0.3 * P.T @ P
    H = of.blocks(0, blocks) + of.squares(A[np.nonzero(A)]) + of.prior(0.3)
    assert np.abs(dense(of, H) - wanted).max() < 1e-12
    firm = H + of.prior(40.0)
    whole = np.zeros((size + conditions, size + conditions))
    whole[:size, :size] = wanted + 40.0 * P.T @ P + (damping + 1.0) * np.eye(size)
    whole[size:, :size], whole[:size, size:] = C, C.T
    whole[size:, size:] = -DUAL * np.eye(conditions)
    right = rng.normal(size=(size + conditions, 2))
    if np.linalg.cond(whole) < 1e8:
        found = of.factorise(firm, C[np.nonzero(C)], damping + 1.0).solve(right)
        assert np.abs(whole @ found - right).max() < 1e-6


@settings(max_examples=40, derandomize=True, deadline=None)
@given(keys=st.lists(st.integers(0, 20), max_size=30))
def test_merged_keys(keys):
    different, place = merged(np.array(keys, dtype=np.int64))
    assert different.tolist() == sorted(set(keys))
    assert different[place].tolist() == keys


@pytest.mark.parametrize(("starts", "ends"), [([], []), ([3, 0, 7], [5, 0, 8]), ([2], [2])])
def test_ranges_one_after_another(starts, ends):
    which, number = spread(np.array(starts, dtype=int), np.array(ends, dtype=int))
    wanted = [(i, n) for i, own in enumerate(zip(starts, ends, strict=True)) for n in range(*own)]
    assert list(zip(which.tolist(), number.tolist(), strict=True)) == wanted


def test_rows_by_their_columns():
    found = by_rows(np.array([[0, -1, 2], [-1, -1, 1]]), np.array([[1.0, 9.0, 2.0], [9.0, 9.0, 3.0]]), 4)
    assert found.toarray().tolist() == [[1.0, 0.0, 2.0, 0.0], [0.0, 3.0, 0.0, 0.0]]
