"""Survey folders run through the command line, as a practitioner would."""

import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner

from bolewalk.cli import main
from tests.folders import write_survey

Made = dict[str, Any]
Make = Callable[..., Made]


@pytest.fixture
def make(tmp_path: Path) -> Make:
    """Run `bolewalk make` on a survey made of the arguments; give findings.json and the exit."""

    def run(*, code: int = 0, **survey: Any) -> Made:
        folder = write_survey(tmp_path / "survey", **survey)
        out = tmp_path / "out"
        result = CliRunner().invoke(main, ["make", str(folder), "--out", str(out), "--json"])
        assert result.exit_code == code, result.output
        findings: Made = json.loads((out / "findings.json").read_text(encoding="utf-8"))
        findings["_out"] = out
        return findings

    return run
