"""Trying changes out: what the stages would make of them, while nothing is stored."""

import time
from collections.abc import Mapping

from likesewn.garment import read_draft, update_garment
from likesewn.garment.editing import Change
from likesewn.job import Stages
from likesewn.web.desk import Opened

__all__ = ["tried"]


def tried(opened: Opened, changes: Mapping[str, Change]) -> Opened:
    """Return a document as it would be with some values changed; it is stored nowhere.

    Args:
        opened: The document as it is.
        changes: New values by dotted key, as for ``update_garment``.

    Raises:
        InputError: A dotted key leads nowhere.
    """
    draft = read_draft(update_garment(opened.document.text, changes), opened.document.name)
    stages = None
    if draft.record is not None and draft.kind is not None and opened.stages is not None:
        stages = Stages(draft.record, draft.kind, today=opened.stages.today, clock=time.perf_counter)
        stages.take_over(opened.stages)
    return Opened(opened.document, draft, stages)
