"""What every page has: look, head, links, findings, and the way to say that something went wrong."""

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from functools import lru_cache
from hashlib import sha256
from importlib import resources

from nicegui import ui
from nicegui.element import Element

from likesewn.errors import InputError, LikesewnError
from likesewn.garment import Finding
from likesewn.web.drawing import add_look
from likesewn.web.widgets import button, heading, link, node, reword, text
from likesewn.web.words import say

__all__ = ["bar", "finding_box", "look_address", "page", "resign", "sign", "tell", "words_of"]

SIGNS = {"wait": "○", "part": "◐", "done": "●", "look": "▲", "stop": "■"}
"""Shapes of the states, each told apart without its colour."""


@lru_cache(maxsize=1)
def look_address() -> str:
    """Return the address of the style sheet, which changes with its content."""
    content = resources.files("likesewn.web").joinpath("look/look.css").read_bytes()
    return f"/look/look.css?{sha256(content).hexdigest()[:12]}"


def dress(title: str) -> None:
    """Give the page its look, language and title."""
    add_look()
    ui.add_head_html(f'<link rel="stylesheet" href="{look_address()}">')
    ui.page_title(f"{title} · likesewn")


@contextmanager
def page(title: str, here: str) -> Iterator[Element]:
    """Make a page of the shelf: head with links, then what is put into it.

    Args:
        title: Its title.
        here: Address of the link that leads to it.
    """
    dress(title)
    link(say("frame.skip"), "#main", "ls-skip")
    with node("div", "ls-page"):
        with node("header", "ls-top"):
            text("likesewn", "p", "ls-mark")
            with node("nav", aria_label=say("frame.pages")):
                for address, key in (
                    ("/", "shelf"),
                    ("/cloths", "cloths"),
                    ("/removed", "removed"),
                    ("/library", "library"),
                ):
                    current = "page" if address == here else None
                    link(say(f"frame.{key}"), address, aria_current=current)
        with node("div", "ls-stack", id="main", tabindex="-1") as main:
            heading(title, 1)
            yield main


def sign(state: str) -> Element:
    """Return the shape of a state, with its word for those who hear it."""
    with node("span", f"ls-sign {state}") as made:
        text(SIGNS[state], "span", aria_hidden="true")
        text(say(f"state.{state}"), "span", "ls-unseen")
    return made


def resign(made: Element, state: str) -> None:
    """Let a sign made by ``sign`` stand for another state."""
    shape, words = made.default_slot.children
    made.classes(replace=f"ls-sign {state}")
    reword(shape, SIGNS[state])
    reword(words, say(f"state.{state}"))


def finding_box(finding: Finding) -> Element:
    """Return a box with a finding; what leads on from it can be put inside."""
    with node("div", f"ls-finding {finding.weight.value}", role="group") as box:
        text(f"{SIGNS_OF[finding.weight.value]} {say(f'weight.{finding.weight.value}')}", "span", "ls-weight")
        text(finding.message)
        if finding.todo:
            text(finding.todo, "p", "ls-soft")
    return box


SIGNS_OF = {"stop": "■", "look": "▲", "note": "·"}


def words_of(error: LikesewnError) -> str:
    """Return an error as a person reads it, all its problems one below the other."""
    if not isinstance(error, InputError):
        return str(error)
    lines: list[str] = []
    for problem in error.problems:
        parts = [f"{problem.message[:1].upper()}{problem.message[1:]}."]
        if problem.found:
            parts.append(say("frame.found", found=problem.found))
        if problem.allowed:
            parts.append(say("frame.allowed", allowed=problem.allowed))
        if problem.nearest:
            parts.append(say("frame.nearest", nearest=problem.nearest))
        if problem.todo:
            parts.append(problem.todo)
        lines.append(" ".join(parts))
    return "\n".join(lines)


def tell(words: str) -> None:
    """Say something in passing, long enough to be read, and heard too; an empty text says nothing."""
    if words:
        ui.notify(words, position="bottom", timeout=7000, color="ink", classes="ls-told")


def bar(words: str, act_words: str, act: Callable[[], object]) -> Element:
    """Return a bar at the foot of the page that says what was done and offers one thing to do."""
    with node("div", "ls-bar", role="status") as made:
        text(words, "span", "ls-grow")
        button(act_words, act)
    return made
