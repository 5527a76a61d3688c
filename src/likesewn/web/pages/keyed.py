"""Fields for keys of the garment file; which there are and what each allows stands in ``garment.keys``."""

from collections.abc import Callable
from typing import Any

from likesewn.garment.editing import Change
from likesewn.garment.keys import Form, Key
from likesewn.web.widgets import Field
from likesewn.web.words import say

__all__ = ["key_title", "keyed_field", "typed"]

TYPED = {Form.TEXT, Form.CHOICE, Form.FLAG, Form.LENGTH, Form.FIGURE, Form.SHARE, Form.NUMBER, Form.LEAN}
"""Forms that one field can hold; the others are lists."""


def key_title(key: Key) -> str:
    """Return a key's name as a label."""
    words = key.name.replace("_", " ")
    return f"{words[:1].upper()}{words[1:]}"


def keyed_field(
    key: Key,
    value: object,
    told: Callable[[Change], Any],
    *,
    unit: str,
    label: str = "",
    **given: Any,  # noqa: ANN401 - passed on to ``Field``
) -> Field:
    """Return a field for a key.

    Args:
        key: The key.
        value: What the file says, or None.
        told: Called with the new value as TOML has it; None takes the key away.
        unit: Unit in which limits are said.
        label: Its label, where the key's own name will not do.
        **given: Further arguments of ``Field``.
    """
    label = label or key_title(key)
    if key.form is Form.FLAG:
        there = value if isinstance(value, bool) else key.usual == "true"
        return Field(label, there, lambda v: told(bool(v)), kind="checkbox", help_text=key.about, **given)
    if key.form is Form.CHOICE:
        options = [(choice, choice) for choice in key.choices]
        chosen = str(value) if value else key.choices[0]
        return Field(label, chosen, told, tag="select", options=options, help_text=key.about, **given)
    limits = "" if key.form is Form.TEXT else say("keyed.allowed", allowed=key.allowed(unit))
    usual = {"placeholder": key.usual} if key.usual else {}
    return Field(
        label,
        shown(value),
        lambda v: told(typed(key, v)),
        help_text=f"{key.about} {limits}".strip(),
        **usual,
        **given,
    )


def shown(value: object) -> str:
    """Return a value of the file as it stands in a field."""
    return "" if value is None else str(value)


def typed(key: Key, value: str) -> Change:
    """Return what was typed as the file has it: a number where it is one, None where there is nothing."""
    words = value.strip()
    if not words:
        return None
    if key.form in {Form.LENGTH, Form.FIGURE, Form.SHARE, Form.NUMBER, Form.LEAN}:
        try:
            return float(words) if "." in words or "e" in words else int(words)
        except ValueError:
            return words
    return words
