"""Every text that is asked for is there, and every text that is there is asked for."""

import ast
import re
from pathlib import Path

import pytest

from likesewn import web
from likesewn.web.words import all_words, say

SOURCES = sorted(Path(web.__file__).parent.rglob("*.py"))


def _asked() -> tuple[set[str], set[str]]:
    """Return the keys that are asked for as they stand, and patterns of those that are put together."""
    whole: set[str] = set()
    built: set[str] = set()
    for source in SOURCES:
        for call in ast.walk(ast.parse(source.read_text(encoding="utf-8"))):
            if not (isinstance(call, ast.Call) and isinstance(call.func, ast.Name) and call.func.id == "say"):
                continue
            key = call.args[0]
            if isinstance(key, ast.Constant):
                whole.add(key.value)
            elif isinstance(key, ast.JoinedStr):
                parts = [
                    re.escape(p.value) if isinstance(p, ast.Constant) else "[a-z0-9_-]+" for p in key.values
                ]
                built.add("".join(parts))
    return whole, built


def test_every_text_that_is_asked_for_is_there():
    known = {re.sub("_(one|many)$", "", key) for key in all_words()} | set(all_words())
    whole, built = _asked()
    assert whole
    assert whole - known == set()
    assert [pattern for pattern in built if not any(re.fullmatch(pattern, key) for key in known)] == []


def test_every_text_that_is_there_is_asked_for():
    whole, built = _asked()
    unused = []
    for key in all_words():
        stem = re.sub("_(one|many)$", "", key)
        if (
            key not in whole
            and stem not in whole
            and not any(re.fullmatch(p, k) for p in built for k in (key, stem))
        ):
            unused.append(key)
    assert unused == []


def test_a_number_chooses_the_form():
    assert say("shelf.count", n=1) == "1 garment"
    assert say("shelf.count", n=2) == "2 garments"


def test_texts_keep_the_tone():
    for key, words in all_words().items():
        assert "!" not in words, key
        assert words == words.strip(), key


def test_a_text_that_is_not_there_is_an_error():
    with pytest.raises(KeyError):
        say("shelf.no-such-text")
