"""Do the tests see a change of the code? `python bench/mutation.py [--most N] [--seed S] [PART]`.

One place of a module is changed at a time (a comparison, a sign, a number, a truth, what is given
back), in a copy of the project, and the tests of the module are run. A change no test sees is
printed with its line. Run from the top of the project.
"""

import argparse
import ast
import copy
import os
import random
import shutil
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from pathlib import Path

TOP = Path(__file__).parents[1]
PARTS: dict[str, tuple[tuple[str, ...], tuple[str, ...]]] = {
    "roots": (("bolewalk/impact/roots.py", "bolewalk/impact/nearest.py"), ("tests/impact",)),
    "cues": (("bolewalk/walk/cues.py",), ("tests/walk/test_cues.py",)),
    "blanking": (
        ("bolewalk/walk/blanking.py", "bolewalk/walk/blanked_media.py"),
        ("tests/walk/test_blanking.py",),
    ),
    "apart": (
        tuple(
            f"bolewalk/desk/apart/{n}.py" for n in ("check", "kinds", "names", "unpack", "worker")
        ),
        ("tests/desk/test_uploads.py",),
    ),
    "privacy": (
        tuple(f"bolewalk/store/{n}.py" for n in ("privacy", "privacy_cut", "removing")),
        ("tests/store/test_privacy.py",),
    ),
    "changes": (("bolewalk/store/changes.py",), ("tests/store/test_changes.py",)),
    "backup": (("bolewalk/store/backup.py",), ("tests/store/test_backup.py",)),
    "tables": (
        ("bolewalk/intake/table_file.py", "bolewalk/intake/tree_table.py"), ("tests/intake",),
    ),
}  # fmt: skip
"""Part -> its modules, and the tests that must see a change of them."""

_COMPARED: dict[type[ast.cmpop], type[ast.cmpop]] = {
    ast.Lt: ast.LtE, ast.LtE: ast.Lt, ast.Gt: ast.GtE, ast.GtE: ast.Gt, ast.Eq: ast.NotEq,
    ast.NotEq: ast.Eq, ast.In: ast.NotIn, ast.NotIn: ast.In, ast.Is: ast.IsNot, ast.IsNot: ast.Is,
}  # fmt: skip
_WORKED: dict[type[ast.operator], type[ast.operator]] = {
    ast.Add: ast.Sub, ast.Sub: ast.Add, ast.Mult: ast.Div, ast.Div: ast.Mult,
    ast.BitOr: ast.BitAnd, ast.BitAnd: ast.BitOr,
}  # fmt: skip


def changed(node: ast.AST) -> Iterator[tuple[str, ast.AST]]:
    """Give what a place may be changed to, each with words."""
    if isinstance(node, ast.Compare) and type(node.ops[0]) in _COMPARED:
        new = copy.deepcopy(node)
        new.ops[0] = _COMPARED[type(node.ops[0])]()
        yield f"{ast.unparse(node)} -> {ast.unparse(new)}", new
    if isinstance(node, ast.BinOp) and type(node.op) in _WORKED:
        new_op = copy.deepcopy(node)
        new_op.op = _WORKED[type(node.op)]()
        yield f"{ast.unparse(node)} -> {ast.unparse(new_op)}", new_op
    if isinstance(node, ast.BoolOp):
        new_bool = copy.deepcopy(node)
        new_bool.op = ast.Or() if isinstance(node.op, ast.And) else ast.And()
        yield f"{ast.unparse(node)} -> {ast.unparse(new_bool)}", new_bool
    if isinstance(node, ast.UnaryOp) and isinstance(node.op, ast.Not):
        yield f"{ast.unparse(node)} -> {ast.unparse(node.operand)}", node.operand
    if isinstance(node, ast.Constant) and type(node.value) in (int, float):
        yield f"{node.value} -> {node.value + 1}", ast.Constant(node.value + 1)
    gives = node.value if isinstance(node, ast.Return) else None
    if gives is not None and not (isinstance(gives, ast.Constant) and gives.value is None):
        yield f"{ast.unparse(node)[:60]} -> return None", ast.Return(ast.Constant(None))


def mutants(source: str) -> list[tuple[int, str, str]]:
    """Give line, words and the whole text of every changed form of a module."""
    tree = ast.parse(source)
    made = []
    for parent in ast.walk(tree):
        for field, value in ast.iter_fields(parent):
            for at, node in enumerate(value) if isinstance(value, list) else [(None, value)]:
                if not isinstance(node, ast.AST):
                    continue
                for words, new in changed(node):
                    ast.copy_location(new, node)
                    _put(parent, field, at, new)
                    text = ast.unparse(ast.fix_missing_locations(tree))
                    _put(parent, field, at, node)
                    made.append((node.lineno, words, text))
    return sorted(made)


def _put(parent: ast.AST, field: str, at: int | None, node: ast.AST) -> None:
    if at is None:
        setattr(parent, field, node)
    else:
        getattr(parent, field)[at] = node


def seen(folder: Path, tests: tuple[str, ...]) -> bool:
    """Run the tests in a copy of the project; tell whether one failed, or they did not end."""
    env = {**os.environ, "PYTHONPATH": str(folder), "PYTHONDONTWRITEBYTECODE": "1"}
    command = [sys.executable, "-m", "pytest", "-q", "-x", "-p", "no:cacheprovider", *tests]
    try:
        done = subprocess.run(
            command, cwd=folder, env=env, capture_output=True, timeout=600, check=False
        )
    except subprocess.TimeoutExpired:
        return True
    return done.returncode != 0


def main() -> int:
    """Change, test, tell."""
    parser = argparse.ArgumentParser(description="Do the tests see a change of the code?")
    parser.add_argument("part", nargs="*", choices=[*PARTS, []], help="all where none is named")
    parser.add_argument("--most", type=int, default=25, help="changes a module")
    parser.add_argument("--seed", type=int, default=1)
    asked = parser.parse_args()
    total = caught = 0
    with tempfile.TemporaryDirectory() as made:
        folder = Path(made, "project")
        wanted = shutil.ignore_patterns("__pycache__")
        for name in ("bolewalk", "tests"):
            shutil.copytree(TOP / name, folder / name, ignore=wanted)
        shutil.copy(TOP / "pyproject.toml", folder)
        for part in asked.part or PARTS:
            modules, tests = PARTS[part]
            if seen(folder, tests):
                print(f"{part}: its tests fail without any change", flush=True)
                return 2
            for module in modules:
                began = time.monotonic()
                source = (folder / module).read_text(encoding="utf-8")
                every = mutants(source)
                some = random.Random(asked.seed).sample(every, min(asked.most, len(every)))
                missed = []
                for line, words, text in sorted(some):
                    (folder / module).write_text(text, encoding="utf-8")
                    if not seen(folder, tests):
                        missed.append(f"  line {line}: {words}")
                (folder / module).write_text(source, encoding="utf-8")
                total, caught = total + len(some), caught + len(some) - len(missed)
                took = time.monotonic() - began
                print(f"{module}: {len(some) - len(missed)} of {len(some)} seen, {took:.0f} s")
                print("\n".join(missed), flush=True)
    print(f"{caught} of {total} changes seen")
    return 0


if __name__ == "__main__":
    sys.exit(main())
