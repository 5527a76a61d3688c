"""Any order of changes, from any revision, against a plain model in Python."""

import tempfile
from pathlib import Path

import pytest
from hypothesis import HealthCheck, settings
from hypothesis import strategies as st
from hypothesis.stateful import (
    Bundle,
    RuleBasedStateMachine,
    initialize,
    invariant,
    rule,
)

from likesewn.library import Conflict, NothingToUndo
from shelves import a_library, top


class Model:
    """A garment as it should be: every state from the first, the place of the present one, versions."""

    def __init__(self, state):
        self.states, self.words, self.place = [state], [""], 0
        self.revision, self.deleted, self.versions = 1, False, []

    @property
    def state(self):
        return self.states[self.place]

    def change(self, state, said):
        if state == self.state:
            return
        del self.states[self.place + 1 :], self.words[self.place + 1 :]
        self.states.append(state)
        self.words.append(said)
        self.place += 1
        self.revision += 1

    def keep(self):
        if not self.versions or self.versions[-1] != self.state:
            self.versions.append(self.state)


STATES = st.tuples(st.integers(0, 5), st.sampled_from(["Top", "Cape", "Ärmel"]), st.integers(0, 2))


def written(state):
    chest, name, tick = state
    return top(chest, name), {"ticks": list(range(tick))}


class Shelves(RuleBasedStateMachine):
    """Two libraries on one folder, as two windows have them; each rule uses one of them."""

    garments = Bundle("garments")

    def __init__(self):
        super().__init__()
        self.scratch = tempfile.TemporaryDirectory()
        self.windows = [a_library(Path(self.scratch.name)) for _ in range(2)]
        self.models = {}
        self.order = []  # newest change first

    def teardown(self):
        for window in self.windows:
            window.close()
        self.scratch.cleanup()

    def touch(self, garment, *, changed):
        if changed:
            self.order = [garment, *(other for other in self.order if other != garment)]

    def agree(self, document, garment):
        model = self.models[garment]
        assert (document.text, document.aside) == written(model.state)
        assert (document.revision, document.deleted) == (model.revision, model.deleted)
        assert document.name == model.state[1]
        assert document.can_undo == (model.words[model.place] if model.place else "")
        after = model.place + 1
        assert document.can_redo == (model.words[after] if after < len(model.words) else "")

    @initialize(target=garments, state=STATES)
    def first(self, state):
        return self.add(state, 0)

    def add(self, state, window):
        document = self.windows[window].add(*written(state))
        self.models[document.garment] = Model(state)
        self.touch(document.garment, changed=True)
        self.agree(document, document.garment)
        return document.garment

    @rule(target=garments, state=STATES, window=st.integers(0, 1))
    def add_another(self, state, window):
        return self.add(state, window)

    @rule(garment=garments, window=st.integers(0, 1), state=STATES, behind=st.sampled_from([0, 0, 0, 1, -1]))
    def save(self, garment, window, state, behind):
        model, library = self.models[garment], self.windows[window]
        revision, said = model.revision - behind, f"to {state}"
        if behind or model.deleted:
            with pytest.raises(Conflict) as caught:
                library.save(garment, revision, *written(state), said=said)
            self.agree(caught.value.newest, garment)
            return
        self.touch(garment, changed=state != model.state)
        model.change(state, said)
        self.agree(library.save(garment, revision, *written(state), said=said), garment)

    @rule(
        garment=garments,
        window=st.integers(0, 1),
        by=st.sampled_from([-1, 1]),
        behind=st.sampled_from([0, 0, 1]),
    )
    def undo_or_redo(self, garment, window, by, behind):
        model, library = self.models[garment], self.windows[window]
        move = library.undo if by < 0 else library.redo
        if behind or model.deleted:
            with pytest.raises(Conflict):
                move(garment, model.revision - behind)
        elif not 0 <= model.place + by < len(model.states):
            with pytest.raises(NothingToUndo):
                move(garment, model.revision)
        else:
            document = move(garment, model.revision)
            model.place += by
            model.revision += 1
            self.touch(garment, changed=True)
            self.agree(document, garment)

    @rule(target=garments, garment=garments, window=st.integers(0, 1), name=st.sampled_from(["Copy", ""]))
    def duplicate(self, garment, window, name):
        document = self.windows[window].duplicate(garment, name)
        chest, old, tick = self.models[garment].state
        self.models[document.garment] = Model((chest, name or old, tick))
        self.touch(document.garment, changed=True)
        self.agree(document, document.garment)
        return document.garment

    @rule(garment=garments, window=st.integers(0, 1), deleted=st.booleans())
    def delete_or_restore(self, garment, window, deleted):
        model = self.models[garment]
        self.touch(garment, changed=model.deleted != deleted)
        model.revision += model.deleted != deleted
        model.deleted = deleted
        if deleted:
            self.windows[window].delete(garment)
        else:
            self.agree(self.windows[window].restore(garment), garment)

    @rule(garment=garments, window=st.integers(0, 1))
    def keep_version(self, garment, window):
        model = self.models[garment]
        if model.deleted:
            with pytest.raises(Conflict):
                self.windows[window].keep_version(garment, model.revision)
            return
        model.keep()
        version = self.windows[window].keep_version(garment, model.revision)
        assert version.number == len(model.versions)
        assert (version.text, version.aside) == written(model.state)

    @rule(garment=garments, window=st.integers(0, 1), which=st.integers(0, 4))
    def go_back(self, garment, window, which):
        model = self.models[garment]
        if model.deleted or which >= len(model.versions):
            return
        wanted = model.versions[which]
        self.touch(garment, changed=wanted != model.state)
        if wanted != model.state:
            model.keep()
        document = self.windows[window].go_back(garment, model.revision, which + 1)
        model.change(wanted, f"back to version {which + 1}")
        self.agree(document, garment)

    @rule(window=st.integers(0, 1))
    def open_again(self, window):
        self.windows[window].close()
        self.windows[window] = a_library(Path(self.scratch.name))

    @invariant()
    def both_windows_show_what_should_be(self):
        for library in self.windows:
            for deleted in (False, True):
                wanted = [g for g in self.order if self.models[g].deleted == deleted]
                shelf = library.shelf(deleted=deleted)
                assert [row.garment for row in shelf.rows] == wanted
                assert [row.revision for row in shelf.rows] == [self.models[g].revision for g in wanted]
            for garment, model in self.models.items():
                self.agree(library.get(garment), garment)
                kept = [(v.text, v.aside) for v in library.versions(garment)]
                assert kept == [written(state) for state in reversed(model.versions)]


TestShelves = Shelves.TestCase
TestShelves.settings = settings(
    max_examples=25,
    stateful_step_count=25,
    deadline=None,
    derandomize=True,
    suppress_health_check=[HealthCheck.too_slow],
)
