"""The API held against its own description: requests made from it, in and out of shape, by Schemathesis."""

from datetime import UTC, date, datetime

import pytest
import schemathesis
from fastapi import FastAPI
from hypothesis import HealthCheck, given, settings
from hypothesis.errors import Unsatisfiable
from schemathesis import GenerationMode
from schemathesis.checks import not_a_server_error
from schemathesis.specs.openapi.checks import response_schema_conformance, status_code_conformance

from likesewn.examples import example_text
from likesewn.library import Library
from likesewn.web.api import add_api
from likesewn.web.desk import Desk
from likesewn.web.studio import Studio


@pytest.fixture(scope="module")
def description(tmp_path_factory):
    library = Library.open(tmp_path_factory.mktemp("library"), now=lambda: datetime.now(UTC))
    desk = Desk(library, today=lambda: date(2026, 11, 25))
    desk.take_in(example_text("throwing-top").encode(), "throwing-top.toml")
    app = FastAPI(openapi_url="/api/openapi.json")
    add_api(app, desk, Studio())
    yield schemathesis.openapi.from_asgi("/api/openapi.json", app)
    desk.close()


CHECKS = [not_a_server_error, status_code_conformance, response_schema_conformance]
SOME = settings(
    max_examples=12, deadline=None, derandomize=True, suppress_health_check=list(HealthCheck), database=None
)


@pytest.mark.parametrize("mode", [GenerationMode.POSITIVE, GenerationMode.NEGATIVE])
def test_every_address_keeps_to_its_description(description, mode):
    faults: list[str] = []
    tried = 0
    for found in description.get_all_operations():
        operation = found.ok()

        @SOME
        @given(case=operation.as_strategy(generation_mode=mode))
        def keeps(case):
            nonlocal tried
            tried += 1
            case.validate_response(case.call(), checks=CHECKS)

        try:
            keeps()
        except Unsatisfiable:
            continue  # an address that takes nothing has no request out of shape
        except Exception as fault:  # noqa: BLE001 - every address is tried before any fault is told
            faults.append(f"{operation.label}: {fault}")
    assert faults == []
    assert tried > 100
