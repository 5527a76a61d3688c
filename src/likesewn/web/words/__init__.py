"""Every text that the workbench shows, gathered so that another language is one file.

Texts stand in ``en.toml`` by dotted key and may hold places to fill in (``{name}``). What the stages
themselves say (findings, plans) comes from the stages.
"""

import tomllib
from collections.abc import Mapping
from functools import lru_cache
from importlib import resources

__all__ = ["LANGUAGE", "all_words", "say"]

LANGUAGE = "en"


@lru_cache(maxsize=4)
def all_words(language: str = LANGUAGE) -> Mapping[str, str]:
    """Return every text of a language by dotted key."""
    text = resources.files(__name__).joinpath(f"{language}.toml").read_text(encoding="utf-8")
    found: dict[str, str] = {}
    for section, words in tomllib.loads(text).items():
        found |= {f"{section}.{key}": str(value) for key, value in words.items()}
    return found


def say(key: str, **places: object) -> str:
    """Return the text of a key, its places filled in; KeyError where there is none.

    ``n`` chooses between ``key_one`` and ``key_many`` where a text has both.
    """
    words = all_words()
    if "n" in places and f"{key}_one" in words:
        key = f"{key}_one" if places["n"] == 1 else f"{key}_many"
    return words[key].format(**places) if places else words[key]
