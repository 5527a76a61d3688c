"""Files of a garment over HTTP: they are what the command line writes, under names that are safe."""

import asyncio
import io
import json
import re
import time
import zipfile
from concurrent.futures import ThreadPoolExecutor
from datetime import date

import httpx
import pytest
from fastapi import FastAPI

from likesewn import job
from likesewn.examples import example_text
from likesewn.garment import load_kind, read_garment
from likesewn.publish.sheet_pdf import sheet_pdf
from likesewn.web.files import add_files

TODAY = date(2026, 11, 25)


@pytest.fixture
def ask(desk):
    """Ask for a file of a garment."""
    app = FastAPI()
    add_files(app, desk)

    async def get(address: str, query: dict[str, str]) -> httpx.Response:
        transport = httpx.ASGITransport(app)
        async with httpx.AsyncClient(transport=transport, base_url="http://desk") as client:
            return await client.get(address, params=query)

    # a thread of its own: a browser test before this one may have left a loop running in this one
    with ThreadPoolExecutor(1) as aside:
        yield lambda garment, name, **query: aside.submit(
            asyncio.run, get(f"/garment/{garment}/files/{name}", query)
        ).result()


@pytest.fixture(scope="module")
def made():
    """What ``likesewn make`` writes for the example, by name."""
    record = read_garment(example_text("throwing-top"), "throwing-top.toml")
    done = job.run(record, load_kind(record.kind), today=TODAY, clock=time.perf_counter)
    return job.files(done, paper="a4", clock=time.perf_counter)


def _untimed(content: bytes) -> dict:
    return {key: value for key, value in json.loads(content).items() if key != "elapsed_s"}


def test_files_are_what_the_command_line_writes(ask, top, made):
    for name, content in made.items():
        answer = ask(top.garment, name)
        assert answer.status_code == 200, name
        if name == "summary.json":
            assert _untimed(answer.content) == _untimed(content)
        else:
            assert answer.content == content, name


def test_everything_is_one_zip_and_keeps_a_version_once(ask, desk, top, made):
    for _ in range(2):
        answer = ask(top.garment, "everything.zip")
        assert answer.headers["content-type"] == "application/zip"
    with zipfile.ZipFile(io.BytesIO(answer.content)) as packed:
        assert packed.testzip() is None
        held = {name: packed.read(name) for name in packed.namelist()}
        assert {entry.date_time for entry in packed.infolist()} == {(2026, 11, 25, 0, 0, 0)}
    assert held.pop("Throwing top.toml").decode() == example_text("throwing-top")
    assert held.pop("reference-sheets-a4.pdf") == sheet_pdf("a4")
    assert _untimed(held.pop("summary.json")) == _untimed(made["summary.json"])
    assert held == {name: content for name, content in made.items() if name != "summary.json"}
    assert [(v.why, v.revision) for v in desk.library.versions(top.garment)] == [("make", top.revision)]


def test_another_paper_gives_its_own_pages(ask, top):
    answer = ask(top.garment, "pattern-letter.pdf", paper="letter")
    assert answer.status_code == 200
    assert answer.content[:5] == b"%PDF-"
    assert ask(top.garment, "pattern-a4.pdf", paper="letter").status_code == 404
    assert ask(top.garment, "pattern.svg", paper="papyrus").status_code == 404


@pytest.mark.parametrize(
    "name", ["nothing.pdf", "lay-plan-rib.pdf", "..%2Fgarment.toml", "pattern-a4.pdf%00", "PATTERN.SVG"]
)
def test_a_name_that_is_not_known_is_not_found(ask, top, name):
    assert ask(top.garment, name).status_code == 404


def test_a_garment_that_is_not_there_is_not_found(ask):
    assert ask("0" * 16, "garment.toml").status_code == 404


def test_the_name_to_save_under_is_safe(ask, desk, top):
    desk.change(top.garment, top.revision, {"garment.name": '../Größe "7"; x'}, said="name")
    given = ask(top.garment, "garment.toml").headers["content-disposition"]
    plain, wide = re.fullmatch(r"attachment; filename=\"([^\"]*)\"; filename\*=UTF-8''(\S+)", given).groups()
    assert plain.isascii()
    assert plain.endswith(".toml")
    assert not set(plain) & set('/\\"<>:|?*')
    assert "Gr%C3%B6%C3%9Fe" in wide
    assert "%2F" not in wide


def test_without_a_pattern_the_garment_file_alone_is_handed_out(ask, desk):
    begun = desk.begin("set-in-sleeve-top")
    assert ask(begun.garment, "garment.toml").text == begun.text
    answer = ask(begun.garment, "pattern-a4.pdf")
    assert answer.status_code == 409
    assert "no pattern" in answer.text


def test_what_stops_the_work_stops_the_files_too(ask, desk, top):
    desk.change(top.garment, top.revision, {"cloth.width": "40 cm"}, said="width")
    answer = ask(top.garment, "everything.zip")
    assert answer.status_code == 409
    assert "stops the work" in answer.text
    assert desk.library.versions(top.garment) == ()
