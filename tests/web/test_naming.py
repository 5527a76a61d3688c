"""File names as they cross the wire: never a path, never a way to fool a header."""

import pytest
from hypothesis import given, seed, settings
from hypothesis import strategies as st

from likesewn.web.naming import attachment, file_name, from_header


@pytest.mark.parametrize(
    "name", ["../../etc/passwd", "..\\..\\boot.ini", "/etc/passwd", "a\x00b", "", "...", "\u202egpj.exe"]
)
def test_no_name_is_a_path(name):
    safe = file_name(name)
    assert safe
    assert not set("/\\\x00:\u202e") & set(safe)
    assert not safe.startswith(".")


@seed(1)
@settings(max_examples=100, deadline=None)
@given(st.text())
def test_a_name_stays_inside_its_header(name):
    said = attachment(name)
    assert said.isascii()
    assert "\n" not in said
    assert "\r" not in said
    assert said.count('"') == 2


def test_a_name_keeps_its_letters():
    assert file_name("Töpferkittel 3.toml") == "Töpferkittel 3.toml"
    assert "filename*=UTF-8''T%C3%B6pferkittel.zip" in attachment("Töpferkittel.zip")


def test_what_a_page_says_a_file_is_called_is_shown_without_its_folder():
    assert from_header("C%3A%5Cphotos%5Cfront.jpg") == "front.jpg"
