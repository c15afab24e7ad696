"""Imports point one way, room by room."""

import ast
from pathlib import Path

import pytest

import alloysolve

ROOT = Path(alloysolve.__file__).parent
ROOMS = (
    ("errors", "arrays", "kept", "special", "version"),
    ("foreign",),
    ("units", "measured", "spreadsheet"),
    ("entry",),
    ("plain",),
    ("published", "physics"),
    ("alloys",),
    ("pieces",),
    ("readings",),
    ("inputs",),
    ("weighing",),
    ("integral",),
    ("inference",),
    ("advice",),
    ("answer",),
    ("exact",),
    ("words",),
    ("batch",),
    ("figures",),
    ("page",),
    ("counter",),
    ("cli",),
)
LAYERS = {room: n for n, rooms in enumerate(ROOMS) for room in rooms}
HEAVY = {"scipy", "pandas", "cvxpy", "matplotlib", "mpltern"}
FILES = sorted(p for p in ROOT.rglob("*.py") if p.name != "__main__.py" and p != ROOT / "__init__.py")


def module_of(path):
    parts = path.relative_to(ROOT).with_suffix("").parts
    return parts[:-1] if parts[-1] == "__init__" else parts


def package_of(path):
    return path.relative_to(ROOT).parts[:-1]


def imports(tree, package):
    """Of every import: module as parts; inside this package; only for type checkers or inside a function."""
    lazy = {id(child) for node in ast.walk(tree) if is_lazy(node) for child in ast.walk(node)}
    for node in ast.walk(tree):
        if isinstance(node, ast.Import):
            for alias in node.names:
                yield tuple(alias.name.split(".")), False, id(node) in lazy
        elif isinstance(node, ast.ImportFrom):
            inside = node.level > 0
            base = package[: len(package) - node.level + 1] if inside else ()
            for alias in node.names:
                yield (*base, *(node.module or "").split("."), alias.name), inside, id(node) in lazy


def is_lazy(node):
    checking = isinstance(node, ast.If) and isinstance(node.test, ast.Name) and node.test.id == "TYPE_CHECKING"
    return checking or isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef)


def trees():
    return {path: ast.parse(path.read_text(encoding="utf-8")) for path in FILES}


TREES = trees()


@pytest.mark.parametrize("path", FILES, ids=lambda p: ".".join(module_of(p)))
def test_no_module_knows_a_layer_above_it(path):
    own = LAYERS[module_of(path)[0]]
    for name, inside, _ in imports(TREES[path], package_of(path)):
        if inside:
            first = next(part for part in name if part)
            assert LAYERS.get(first, 0) <= own, (name, "is above")
        else:
            assert name[0] != "alloysolve" or name[1:2] == (), "imports of this package are relative"


@pytest.mark.parametrize("path", [p for p in FILES if module_of(p)[0] == "physics"], ids=lambda p: p.stem)
def test_physics_knows_no_tables_and_no_units(path):
    for name, inside, _ in imports(TREES[path], package_of(path)):
        assert not inside or next(p for p in name if p) in ("physics", "arrays"), name


@pytest.mark.parametrize("path", FILES, ids=lambda p: ".".join(module_of(p)))
def test_heavy_packages_are_imported_where_they_are_used(path):
    top = {name[0] for name, inside, lazy in imports(TREES[path], package_of(path)) if not inside and not lazy}
    assert not top & HEAVY


def test_no_circles():
    """Imports can be put in an order, those inside functions and for type checkers counted too."""
    known = {module_of(p) for p in FILES}
    needs = {}
    for path, tree in TREES.items():
        found = set()
        for name, inside, _ in imports(tree, package_of(path)):
            if inside:
                parts = tuple(p for p in name if p)
                found.add(max((parts[:n] for n in (1, 2, 3) if parts[:n] in known), key=len, default=()))
        needs[module_of(path)] = found - {module_of(path), ()}
    while ready := [m for m, n in needs.items() if not n & set(needs)]:
        for m in ready:
            del needs[m]
    assert not needs


@pytest.mark.parametrize(
    "path", [p for p in FILES if module_of(p)[0] not in ("cli",)], ids=lambda p: ".".join(module_of(p))
)
def test_the_library_prints_nothing_and_hides_nothing(path):
    for node in ast.walk(TREES[path]):
        called = isinstance(node, ast.Call) and isinstance(node.func, ast.Name) and node.func.id
        assert called not in ("print", "input", "exec", "eval")
        assert not (isinstance(node, ast.ExceptHandler) and node.type is None)
        assert not isinstance(node, ast.Global)
