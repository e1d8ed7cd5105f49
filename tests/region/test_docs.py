"""docs/region.md names every key of a column mapping, and its example is one."""

import re
from pathlib import Path

from bolewalk.drawing.details import PROPERTIES
from bolewalk.region.columns import MAPPING_KEYS, read_columns

PAGE = (Path(__file__).parents[2] / "docs" / "region.md").read_text(encoding="utf-8")


def test_every_key_and_no_other() -> None:
    rows = re.findall(r"^\| (`[^|]*`)(?:, \.\.\.)? \|", PAGE, re.MULTILINE)
    listed = {name for row in rows for name in re.findall(r"`([^`]+)`", row)}
    keys = {f"{t}.{k}".lstrip(".") for t, of in MAPPING_KEYS.items() for k in of}
    # A property of works is named once, on its own page.
    of_works = {f"works.{p}" for p in PROPERTIES}
    assert listed - of_works == keys - of_works - set(MAPPING_KEYS)
    assert listed & of_works


def test_the_example_can_be_read(tmp_path: Path) -> None:
    (example,) = re.findall(r"```toml\n(.*?)```", PAGE, re.DOTALL)
    path = tmp_path / "columns.toml"
    path.write_text(example, encoding="utf-8")
    columns = read_columns(path)
    assert columns.tree_column("tree") == "asset_id"
    assert columns.classes == {"small": "0-6 in"}
    assert columns.work_defaults == {"kind": "trench", "depth": "1 m"}
