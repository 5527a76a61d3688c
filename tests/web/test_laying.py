"""The process that lays: a search that is stopped ends, whenever it is stopped."""

import threading
import time

from likesewn.web.laying import Laid, LayRoom, Task


def test_a_search_that_is_stopped_while_it_waits_for_its_turn_lays_once_and_ends(desk, top):
    opened = desk.open(top.garment)
    stages, trued = opened.cut(), opened.trued()
    task = Task(stages.record, trued.pattern.kind, stages.cut_list, stages.rule_mm, seconds=1000.0)
    room = LayRoom()
    found = []
    with room._turn:  # the process is busy starting
        search = threading.Thread(target=lambda: found.append(room.lay(task)))
        search.start()
        while not room._newest:
            time.sleep(0.001)
        room.stop()
    search.join(60.0)
    ended = not search.is_alive()
    room.close()
    search.join(60.0)
    assert ended
    assert isinstance(found[0], Laid)
