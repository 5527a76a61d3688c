"""Garment files of invented scenarios, which ``likesewn demo`` runs and the docs show."""

from importlib import resources

__all__ = ["example_names", "example_text"]


def example_names() -> tuple[str, ...]:
    """Return the names of the examples, sorted."""
    return tuple(
        sorted(
            f.name.removesuffix(".toml")
            for f in resources.files(__name__).iterdir()
            if f.name.endswith(".toml")
        )
    )


def example_text(name: str) -> str:
    """Return an example's garment file; KeyError where there is none of that name."""
    if name not in example_names():
        raise KeyError(name)
    return resources.files(__name__).joinpath(f"{name}.toml").read_text(encoding="utf-8")
