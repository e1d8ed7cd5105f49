"""The description of the interface against the router."""

import re

import jsonschema
from starlette.testclient import TestClient

from bolewalk.desk.app import ROUTES


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
            declared = {p["name"] for p in op["parameters"] if p["in"] == "path"}
            assert declared == set(re.findall(r"\{(\w+)\}", path)), path
    for schema in document["components"]["schemas"].values():
        jsonschema.Draft202012Validator.check_schema(schema)
    text = reading_desk.get("/openapi.json").text
    for name in re.findall(r"#/components/schemas/(\w+)", text):
        assert name in document["components"]["schemas"]
