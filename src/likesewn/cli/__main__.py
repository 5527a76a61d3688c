"""``python -m likesewn.cli`` is the ``likesewn`` command."""

from likesewn.cli import main

main()
