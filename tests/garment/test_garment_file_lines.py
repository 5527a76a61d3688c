"""The line of each key, against what the standard reader finds in the same text."""

import tomllib

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from likesewn.garment.toml_lines import DEEPEST, MOST_LINES, dotted, find_lines

quick = settings(max_examples=80, derandomize=True, deadline=None)

TEXT = '''\
# a remark = 1 [not a table]
format = 1
[garment]
name = """two
[tape] = 3
lines"""
"quoted.key" = 'it''s'
[a.b]
c.d = {x = [1, 2,
  { y = "]" }], "z w" = 4}
[[points]]
at = [[1, 2], # ]
  [3, 4]]
[[points]]
at = [
]
[points.inner]
deep = 2026-01-01 12:00:00
'''.replace("'it''s'", "'its'")


def test_finds_every_key_down_to_the_depth_that_is_kept():
    assert tomllib.loads(TEXT)
    of = {dotted(path): line for path, line in find_lines(TEXT).of.items()}
    assert of == {
        "format": 2,
        "garment": 3,
        "garment.name": 4,
        "garment.quoted.key": 7,
        "a": 8,
        "a.b": 8,
        "a.b.c": 9,
        "a.b.c.d": 9,
        "a.b.c.d.x": 9,
        "a.b.c.d.x[1]": 9,
        "a.b.c.d.x[2]": 9,
        "a.b.c.d.x[3]": 10,
        "a.b.c.d.z w": 10,
        "points": 11,
        "points[1]": 11,
        "points[1].at": 12,
        "points[1].at[1]": 12,
        "points[1].at[1][1]": 12,
        "points[1].at[1][2]": 12,
        "points[1].at[2]": 13,
        "points[1].at[2][1]": 13,
        "points[1].at[2][2]": 13,
        "points[2]": 14,
        "points[2].at": 15,
        "points[2].inner": 17,
        "points[2].inner.deep": 18,
    }


def test_a_path_that_is_not_there_has_the_line_of_what_is_round_it():
    lines = find_lines(TEXT)
    assert lines.near(("garment", "kind")) == 3
    assert lines.near(("points", 1, "piece")) == 14
    assert lines.near(("wearer",)) == 0


def test_names_given_twice():
    lines = find_lines("[a]\nb = 1\n[c]\n[a]\nb = 2\n")
    assert lines.doubled == [(("a",), 1, 4), (("a", "b"), 2, 5)]
    assert find_lines("[[a]]\nb = 1\n[[a]]\nb = 2\n").doubled == []


def test_bad_nesting():
    assert find_lines("x = 1\na = " + "[" * (DEEPEST + 1)).too_deep == 2
    assert find_lines("a = " + "[" * DEEPEST + "]" * DEEPEST).too_deep == 0
    assert find_lines("\n" + ".".join("a" * (DEEPEST + 1)) + " = 1").too_deep == 2
    assert find_lines("a = 1\nb = [1,\nc = 2\n").unclosed == 2


def test_a_flood_of_keys_is_not_all_remembered():
    assert len(find_lines("x = [" + "1," * (MOST_LINES + 1000) + "]").of) == MOST_LINES


keys = st.text("abc_-", min_size=1, max_size=3)
leaves = st.one_of(
    st.integers(0, 9), st.sampled_from(['"# ="', "'[x]'", '"""a\n[b]\nc = 1"""', "true", "1.5", "[]", "{}"])
)


@quick
@given(
    st.lists(
        st.tuples(
            keys, st.lists(st.tuples(keys, leaves, st.integers(0, 2)), max_size=4, unique_by=lambda kv: kv[0])
        ),
        max_size=5,
        unique_by=lambda table: table[0],
    )
)
def test_lines_of_written_tables(tables):
    text = ""
    expected = {}
    for table, entries in tables:
        expected[table,] = text.count("\n") + 1
        text += f"[{table}]\n"
        for key, value, blank in entries:
            text += "# remark [x] y = 1\n" * blank
            expected[table, key] = text.count("\n") + 1
            text += f"{key} = {value} # end\n"
    assert set(tomllib.loads(text)) == {table for table, _ in tables}
    of = find_lines(text).of
    assert {path: of[path] for path in expected} == expected
    assert not find_lines(text).doubled


@quick
@given(st.text("[]{}=.\",#\n \\'aé1-", max_size=200))
def test_any_text_is_scanned(text):
    lines = find_lines(text)
    assert all(1 <= line <= text.count("\n") + 1 for line in lines.of.values())


@pytest.mark.parametrize(
    "word", ["'", '"', '"\\', "'''", '"""', '"""\\"', "[", "]", "{", "}", "=", ".", ",", "a.", "[[a]]\n"]
)
def test_repeated_signs_do_not_hang(word):
    assert find_lines(word * 20000).too_deep >= 0
