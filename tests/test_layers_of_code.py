"""Imports point one way, room by room."""

import ast
from pathlib import Path

import pytest

import alloysolve

ROOT = Path(alloysolve.__file__).parent
ROOMS = (
    ("errors", "places", "arrays", "kept", "special", "version"),
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
    ("documents",),
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


@pytest.fixture(scope="module")
def trees():
    return {path: ast.parse(path.read_text(encoding="utf-8")) for path in FILES}


@pytest.fixture(scope="module")
def imported(trees):
    return {path: list(imports(tree, package_of(path))) for path, tree in trees.items()}


def test_no_module_knows_a_layer_above_it(imported):
    wrong = []
    for path, found in imported.items():
        own = LAYERS[module_of(path)[0]]
        for name, inside, _ in found:
            if inside:
                first = next(part for part in name if part)
                wrong += [(module_of(path), name, "is above")] if LAYERS.get(first, 0) > own else []
            elif name[0] == "alloysolve" and name[1:2] != ():
                wrong.append((module_of(path), name, "imports of this package are relative"))
    assert not wrong


def test_physics_knows_no_tables_and_no_units(imported):
    physics = {path: found for path, found in imported.items() if module_of(path)[0] == "physics"}
    assert len(physics) > 10
    for path, found in physics.items():
        for name, inside, _ in found:
            assert not inside or next(p for p in name if p) in ("physics", "arrays"), (path.stem, name)


def test_heavy_packages_are_imported_where_they_are_used(imported):
    for path, found in imported.items():
        top = {name[0] for name, inside, lazy in found if not inside and not lazy}
        assert not top & HEAVY, module_of(path)


def test_no_circles(imported):
    """Imports can be put in an order, those inside functions and for type checkers counted too."""
    known = {module_of(p) for p in FILES}
    needs = {}
    for path, names in imported.items():
        found = set()
        for name, inside, _ in names:
            if inside:
                parts = tuple(p for p in name if p)
                found.add(max((parts[:n] for n in (1, 2, 3) if parts[:n] in known), key=len, default=()))
        needs[module_of(path)] = found - {module_of(path), ()}
    while ready := [m for m, n in needs.items() if not n & set(needs)]:
        for m in ready:
            del needs[m]
    assert not needs


def test_the_library_prints_nothing_and_hides_nothing(trees):
    for path, tree in trees.items():
        if module_of(path)[0] == "cli":
            continue
        for node in ast.walk(tree):
            called = isinstance(node, ast.Call) and isinstance(node.func, ast.Name) and node.func.id
            assert called not in ("print", "input", "exec", "eval"), (path, node.lineno)
            assert not (isinstance(node, ast.ExceptHandler) and node.type is None), (path, node.lineno)
            assert not isinstance(node, ast.Global), (path, node.lineno)
