"""The HTTP API, called in process."""

import asyncio
from functools import partialmethod

import httpx
import pytest
from fastapi import FastAPI

from likesewn.web.api import add_api
from likesewn.web.studio import Studio

KIND = "set-in-sleeve-top"


class _Api:
    """Asks an app without a socket, one request after another."""

    def __init__(self, app: FastAPI) -> None:
        self._transport = httpx.ASGITransport(app)

    def ask(self, method: str, path: str, **given) -> httpx.Response:
        async def asked() -> httpx.Response:
            async with httpx.AsyncClient(
                transport=self._transport, base_url="http://127.0.0.1/api/"
            ) as client:
                return await client.request(method, path, **given)

        return asyncio.run(asked())

    get = partialmethod(ask, "GET")
    post = partialmethod(ask, "POST")
    put = partialmethod(ask, "PUT")
    patch = partialmethod(ask, "PATCH")
    delete = partialmethod(ask, "DELETE")


@pytest.fixture
def api(desk):
    app = FastAPI()
    add_api(app, desk, Studio())
    return _Api(app)


def _problems(answer: httpx.Response) -> list[dict]:
    assert set(answer.json()) == {"error"}
    problems = answer.json()["error"]["problems"]
    assert problems
    assert {"message", "found", "allowed", "todo"} <= set(problems[0])
    return problems


def test_a_garment_from_nothing_to_its_figures(api):
    made = api.post("garments", json={"kind": KIND, "name": "Kiln top"})
    assert made.status_code == 201
    garment = made.json()["garment"]
    early = api.get(f"garments/{garment}/summary")
    assert early.status_code == 422
    assert {p["key"] for p in _problems(early)} == {"tape.body_length", "tape.chest_width"}
    changes = {"tape.body_length": "66 cm", "tape.chest_width": "20 1/2 in"}
    changed = api.patch(f"garments/{garment}", json={"revision": 1, "changes": changes, "said": "measures"})
    assert changed.status_code == 200
    summary = api.get(f"garments/{garment}/summary").json()
    assert summary["measures"]["chest_width"]["asked_mm"] == pytest.approx(520.7)
    assert abs(summary["measures"]["chest_width"]["value_mm"] - 520.7) < 0.1
    stages = api.get(f"garments/{garment}/stages").json()
    assert stages["record"]["state"] == "done"
    lay = api.post(f"garments/{garment}/lay", json={"seconds": 0}).json()
    assert lay[0]["fits"] is True


def test_undo_and_redo(api, top):
    path = f"garments/{top.garment}"
    api.patch(path, json={"revision": 1, "changes": {"tape.hem_width": "50 cm"}, "said": "hem width"})
    undone = api.post(f"{path}/undo", json={"revision": 2}).json()
    assert undone["text"] == top.text
    assert undone["can_redo"] == "hem width"
    assert 'hem_width = "50 cm"' in api.post(f"{path}/redo", json={"revision": 3}).json()["text"]


def test_an_old_revision_is_refused_and_nothing_changes(api, top):
    path = f"garments/{top.garment}"
    api.patch(path, json={"revision": 1, "changes": {"tape.hem_width": "50 cm"}})
    late = api.patch(path, json={"revision": 1, "changes": {"tape.hem_width": "60 cm"}})
    assert late.status_code == 409
    _problems(late)
    assert api.get(path).json()["revision"] == 2


@pytest.mark.parametrize(
    ("key", "value"),
    [("tape.chest_width", "52 cmm"), ("tape.chest_with", "52"), ("cloth.width", -3), ("[", "x"), ("", "x")],
)
def test_a_change_that_cannot_be_used_is_refused_in_words(api, top, key, value):
    answer = api.patch(f"garments/{top.garment}", json={"revision": 1, "changes": {key: value}})
    assert answer.status_code == 422
    _problems(answer)


def test_what_is_not_there_is_not_found(api):
    for path in ("garments/none", "garments/none/file", "garments/none/versions", "garments/none/summary"):
        answer = api.get(path)
        assert answer.status_code == 404
        _problems(answer)


def test_a_request_of_another_shape_is_refused_in_the_same_shape(api, top):
    answer = api.patch(f"garments/{top.garment}", json={"revision": "one", "chnges": {}})
    assert answer.status_code == 422
    assert {p["key"] for p in _problems(answer)} == {"body.revision", "body.chnges"}


def test_a_file_comes_in_and_goes_out_as_it_was(api, top):
    assert api.get(f"garments/{top.garment}/file").text == top.text
    bundle = api.get(f"garments/{top.garment}/export")
    assert "attachment" in bundle.headers["content-disposition"]
    again = api.post("garments/file", content=bundle.content)
    assert again.status_code == 201
    assert again.json()["text"] == top.text
    assert api.post("garments/file", content=b"\x89PNG").status_code == 422
    assert api.post("garments/file", content=b"").status_code == 422


def test_shelf_search_removal_and_putting_back(api, top):
    api.post(f"garments/{top.garment}/duplicate", json={"name": "Glaze apron"})
    assert api.get("garments").json()["total"] == 2
    assert [g["name"] for g in api.get("garments", params={"search": "glaze"}).json()["garments"]] == [
        "Glaze apron"
    ]
    assert api.delete(f"garments/{top.garment}").status_code == 204
    assert [g["name"] for g in api.get("garments", params={"removed": True}).json()["garments"]] == [top.name]
    assert api.post(f"garments/{top.garment}/restore").json()["deleted"] is False


def test_versions_and_makes(api, top):
    path = f"garments/{top.garment}"
    first = api.post(f"{path}/versions", json={"revision": 1, "name": "as lent out"}).json()
    api.patch(path, json={"revision": 1, "changes": {"tape.hem_width": "50 cm"}})
    second = api.post(f"{path}/versions", json={"revision": 2}).json()
    changes = api.get(f"{path}/versions/{first['number']}/compare/{second['number']}").json()
    assert [change["key"] for change in changes] == ["tape.hem_width"]
    back = api.post(f"{path}/versions/{first['number']}/go-back", json={"revision": 2}).json()
    assert back["text"] == top.text
    make = {"revision": back["revision"], "made": "2026-11-20", "cloth": "grey jersey", "next_time": "longer"}
    made = api.post(f"{path}/makes", json=make)
    assert made.status_code == 201
    number, revision = made.json()["number"], made.json()["revision"]
    put = api.put(f"{path}/makes/{number}", json={**make, "revision": revision, "next_time": "shorter"})
    assert put.json()["next_time"] == "shorter"
    assert api.delete(f"{path}/makes/{number}").status_code == 204
    assert api.post(f"{path}/makes/{number}/restore").json()["deleted"] is False


def test_the_drawer_of_cloths(api):
    cloth = api.post(
        "cloths", json={"name": "Blue stripe", "text": 'width = "150 cm"\nrepeat_across = "4 cm"'}
    )
    assert cloth.status_code == 201
    key = cloth.json()["cloth"]
    changed = api.put(
        f"cloths/{key}",
        json={"revision": cloth.json()["revision"], "name": "Stripe", "text": 'width = "1.4 m"'},
    )
    assert changed.status_code in {200, 422}
    assert api.post("cloths", json={"name": "Odd", "text": "widht = 3"}).status_code == 422
    assert api.delete(f"cloths/{key}").status_code == 204
    assert api.get("cloths").json() == []
    assert api.post(f"cloths/{key}/restore").status_code == 200
