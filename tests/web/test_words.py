"""Every text that is asked for is there, and every text that is there is asked for."""

import ast
import re
from pathlib import Path

import pytest

from likesewn import web
from likesewn.web.words import all_words, say

SOURCES = sorted(Path(web.__file__).parent.rglob("*.py"))


def _asked() -> tuple[set[str], set[str], set[str]]:
    """Return the keys asked for as they stand, patterns of those put together, and every text there is."""
    whole: set[str] = set()
    built: set[str] = set()
    written: set[str] = set()
    for source in SOURCES:
        for node in ast.walk(ast.parse(source.read_text(encoding="utf-8"))):
            if isinstance(node, ast.Constant) and isinstance(node.value, str):
                written.add(node.value)
            elif isinstance(node, ast.JoinedStr):
                parts = [
                    re.escape(p.value) if isinstance(p, ast.Constant) else "[a-z0-9_-]+" for p in node.values
                ]
                if re.match(r"[a-z]+\\\.", "".join(parts)):
                    built.add("".join(parts))
            elif isinstance(node, ast.Call) and isinstance(node.func, ast.Name) and node.func.id == "say":
                whole |= {node.args[0].value} if isinstance(node.args[0], ast.Constant) else set()
    return whole, built, written


def test_every_text_that_is_asked_for_is_there():
    known = {re.sub("_(one|many)$", "", key) for key in all_words()} | set(all_words())
    whole, _, _ = _asked()
    assert whole
    assert whole - known == set()


def test_every_text_that_is_there_is_asked_for():
    _, built, written = _asked()
    unused = []
    for key in all_words():
        stem = re.sub("_(one|many)$", "", key)
        if not {key, stem} & written and not any(re.fullmatch(p, k) for p in built for k in (key, stem)):
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
