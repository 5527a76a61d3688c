"""Fields, buttons and boxes: native HTML elements with the workbench's own look (``look.css``).

Every field has its label, its help and its error tied to it, so that what is seen is also what is heard.
Nothing here knows a garment.
"""

from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from itertools import count
from typing import Any, Self

from nicegui import ui
from nicegui.element import Element
from nicegui.events import GenericEventArguments

__all__ = [
    "Field",
    "Sender",
    "button",
    "dialog",
    "heading",
    "link",
    "node",
    "reword",
    "text",
]

_NUMBERS = count(1)


def node(tag: str, look: str = "", **attributes: object) -> Element:
    """Return a native element; ``look`` are its classes, an underscore in an attribute's name is a hyphen."""
    made = Element(tag).classes(look)
    for name, value in attributes.items():
        if value is not None and value is not False:
            made.props[name.strip("_").replace("_", "-")] = "" if value is True else value
    return made


def text(words: str, tag: str = "p", look: str = "", **attributes: object) -> Element:
    """Return an element that holds a text."""
    made = node(tag, look, **attributes)
    made._text = words  # noqa: SLF001 - what ui.label does, for any tag
    return made


def reword(element: Element, words: str) -> None:
    """Let an element made by ``text`` say something else."""
    element._text = words  # noqa: SLF001 - as in ``text``
    element.update()


def heading(words: str, level: int = 2, look: str = "", **attributes: object) -> Element:
    """Return a heading."""
    return text(words, f"h{level}", look, **attributes)


def link(words: str, to: str, look: str = "", **attributes: object) -> Element:
    """Return a link."""
    return text(words, "a", look, href=to, **attributes)


def button(
    words: str, act: Callable[..., Any], look: str = "", *, label: str = "", **attributes: object
) -> Element:
    """Return a button.

    Args:
        words: What it says.
        act: Called when it is pressed; may be a coroutine function. It is given nothing.
        look: Further classes: ``main`` for the one thing to do next, ``plain`` for a quiet one.
        label: What it is called to those who hear it, where the words alone do not say.
        **attributes: Further attributes.
    """
    made = text(words, "button", f"ls-button {look}", type="button", aria_label=label or None, **attributes)
    made.on("click", act, args=[])
    return made


class Typed(Element, component="typed.js"):
    """The native field inside a ``Field``."""


class Field:
    """A field with its label, its help and its error.

    Attributes:
        box: The element round it all.
        input: The field itself.
    """

    def __init__(
        self,
        label: str,
        value: object = "",
        told: Callable[[Any], Any] | None = None,
        *,
        tag: str = "input",
        kind: str = "text",
        options: Mapping[str, str] | Sequence[tuple[str, str]] = (),
        help_text: str = "",
        look: str = "",
        hidden_label: bool = False,
        focused: Callable[[], Any] | None = None,
        typing: Callable[[str], Any] | None = None,
        **attributes: object,
    ) -> None:
        """Make a field.

        Args:
            label: What it is called.
            value: What stands in it; a truth for a tick box.
            told: Called with the new value when the person is done with it.
            tag: ``input``, ``select`` or ``textarea``.
            kind: Type of an input.
            options: What a select offers: words by value.
            help_text: A sentence below it.
            look: Further classes of the box.
            hidden_label: True where the label is heard but not seen.
            focused: Called when it gets the focus.
            typing: Called with each letter typed.
            **attributes: Further attributes of the field.
        """
        name = f"field-{next(_NUMBERS)}"
        tick = kind == "checkbox"
        with node("div", f"ls-field {'ls-tick' if tick else ''} {look}") as self.box:
            hidden = "ls-unseen" if hidden_label else ""
            if not tick:
                self.label = text(label, "label", hidden)
            self.input = Typed()
            if tick:
                self.label = text(label, "label", hidden)
            # the framework gives the field an id of its own, over any other
            self.label.props["for"] = self.input.html_id
            self._help = text(help_text, "p", "ls-help", id=f"{name}-help")
            self._error = text("", "p", "ls-error", id=f"{name}-error", role="alert")
        described = f"{name}-help {name}-error"
        self._attributes: dict[str, object] = {
            "autocomplete": "off",
            "aria-describedby": described,
            **({"type": kind} if tag == "input" else {}),
            **{
                key.strip("_").replace("_", "-"): v for key, v in attributes.items() if v not in (None, False)
            },
        }
        pairs = list(options.items()) if isinstance(options, Mapping) else list(options)
        self.input.props["tag"] = tag
        self.input.props["options"] = [list(pair) for pair in pairs]
        self.input.props["value"] = value
        self.input.props["live"] = typing is not None
        self._apply()
        self._help.set_visibility(bool(help_text))
        self._error.set_visibility(False)
        if told:
            self.input.on("value", lambda e: told(self._took(_value(e))))
        if typing:
            self.input.on("typing", lambda e: typing(_value(e)), throttle=0.25, leading_events=False)
        if focused:
            self.input.on("focusin", focused, args=[])

    def _apply(self) -> None:
        self.input.props["field"] = self._attributes

    def _took(self, value: Any) -> Any:  # noqa: ANN401 - a text or a truth, as the field has it
        """Note what stands in the field now, so that something else can be put there."""
        if self._attributes.get("type") != "radio":
            self.input.props["value"] = value
        return value

    @property
    def value(self) -> object:
        """What the server holds to stand in it."""
        return self.input.props["value"]

    def show(self, value: object) -> Self:
        """Put a value into it."""
        if self.input.props["value"] != value:
            self.input.props["value"] = value
            self.input.update()
        return self

    def refuse(self, why: str) -> None:
        """Say why what was typed cannot be used; an empty text takes the error away."""
        reword(self._error, why)
        self._error.set_visibility(bool(why))
        self._attributes = {**self._attributes, "aria-invalid": "true" if why else "false"}
        self._apply()
        self.input.update()

    def help(self, words: str) -> None:
        """Say something else below it."""
        reword(self._help, words)
        self._help.set_visibility(bool(words))

    def offer(self, options: Sequence[tuple[str, str]]) -> None:
        """Offer other choices."""
        self.input.props["options"] = [list(pair) for pair in options]
        self.input.update()


def _value(event: GenericEventArguments) -> Any:  # noqa: ANN401 - a text or a truth, as the field has it
    args = event.args
    return args[0] if isinstance(args, list) and len(args) == 1 else args


class Sender(Element, component="sender.js"):
    """A box to choose files in or drop them on; each is sent to ``to`` as the body of one POST."""

    def __init__(
        self,
        label: str,
        to: str,
        sent: Callable[[dict[str, Any]], Any],
        *,
        accept: str,
        many: bool = False,
        busy: str = "",
    ) -> None:
        """Make one.

        Args:
            label: What is to be chosen.
            to: Address that takes the bytes.
            sent: Called with the server's answer to each file: ``ok``, ``status``, ``name`` and its JSON.
            accept: File types, as HTML has them.
            many: Whether several may be chosen at once.
            busy: Words to show before the name of the file on its way.
        """
        super().__init__()
        self.props["to"] = to
        self.props["accept"] = accept
        self.props["many"] = many
        self.props["words"] = {"busy": busy}
        self.props["field"] = {"aria-label": label}
        self.on("sent", lambda e: sent(_value(e)))


@contextmanager
def dialog(title: str, *, wide: bool = False) -> Iterator[ui.dialog]:
    """Open a box over the page for a decision; close it with the yielded dialog's ``close``."""
    box = ui.dialog().props(f'aria-label="{title.replace(chr(34), "")}"')
    with box, node("div", f"ls-dialog {'ls-wide' if wide else ''}"):
        heading(title, 2)
        yield box
    box.on("hide", box.delete)
    box.open()
