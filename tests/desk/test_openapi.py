"""The description of the interface against the router."""

import re
from typing import Any

import jsonschema
from starlette.testclient import TestClient

from bolewalk.desk.app import ROUTES
from bolewalk.desk.routes.parsing import SEND_HEADER

from .test_sends import CASES


def test_every_route_is_described_and_no_other(reading_desk: TestClient) -> None:
    document = reading_desk.get("/openapi.json").json()
    described = {
        (path, method.upper()) for path, item in document["paths"].items() for method in item
    }
    routed = {
        (re.sub(r"\{(\w+):\w+\}", r"{\1}", route.path), method)
        for route in ROUTES
        if route.path.startswith("/api/")
        for method in (route.methods or set()) - {"HEAD"}
    }
    assert described == routed


def test_every_operation_is_complete(reading_desk: TestClient) -> None:
    document = reading_desk.get("/openapi.json").json()
    assert document["openapi"].startswith("3.1")
    names = [op["operationId"] for item in document["paths"].values() for op in item.values()]
    assert len(names) == len(set(names))
    for path, item in document["paths"].items():
        for op in item.values():
            assert op["summary"]
            parameters = [told(document, p) for p in op["parameters"]]
            declared = {p["name"] for p in parameters if p["in"] == "path"}
            assert declared == set(re.findall(r"\{(\w+)\}", path)), path
    for schema in document["components"]["schemas"].values():
        jsonschema.Draft202012Validator.check_schema(schema)
    text = reading_desk.get("/openapi.json").text
    for kind, name in re.findall(r"#/components/(\w+)/(\w+)", text):
        assert name in document["components"][kind]


def told(document: dict[str, Any], parameter: dict[str, Any]) -> dict[str, Any]:
    """A parameter, or the one it refers to."""
    name = parameter.get("$ref", "").rpartition("/")[2]
    return dict(document["components"]["parameters"][name]) if name else parameter


def test_the_changes_that_take_an_id_say_so(reading_desk: TestClient) -> None:
    document = reading_desk.get("/openapi.json").json()
    said = {
        f"{method.upper()} {path}"
        for path, item in document["paths"].items()
        for method, op in item.items()
        if any(told(document, p)["name"] == SEND_HEADER for p in op["parameters"])
    }
    taken = {
        re.sub(r"\{(\w+):\w+\}", r"{\1}", route).replace("surveys/1", "surveys/{survey}")
        for route in CASES
    }
    assert said == {route for route in taken if "/api/" in route}
