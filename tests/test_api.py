"""The public names and what each function takes; whom they serve; what importing costs."""

import dataclasses
import inspect
import subprocess
import sys

import pytest

import alloysolve

PUBLIC = {
    "AlloysolveError": None,
    "Answer": ["document"],
    "InputError": None,
    "SolverError": None,
    "TableError": None,
    "Measured": ["value", "u", "unit", "low", "high", "dof"],
    "Conductivity": ["value", "u", "unit", "frequency", "place", "temperature", "path"],
    "Magnet": ["answer", "place", "path"],
    "Resonance": ["peaks", "u", "place", "recording", "path"],
    "SkinAnswer": ["kind", "answer", "place", "path"],
    "SlidingMagnet": ["value", "u", "known_good", "place", "time", "known_good_time", "wood_time", "path"],
    "SoundSpeed": ["value", "u", "place", "time", "thickness", "shown", "set_speed", "path"],
    "SurfaceComposition": ["value", "u", "listed", "place", "path"],
    "Piece": [
        "claim",
        "mass",
        "displaced",
        "in_water",
        "density",
        "liquid_density",
        "water",
        "wetting",
        "scale_step",
        "count",
        "parts",
        "bar",
        "disc",
        "ring",
        "rod",
        "sphere",
        "tube",
        "hollow",
        "magnet",
        "conductivity",
        "resistivity",
        "surface_composition",
        "resonance",
        "sound_speed",
        "sliding_magnet",
        "streak",
        "colour",
        "acid",
        "reading",
        "name",
        "note",
        "proof",
        "current_money",
    ],
    "Settings": ["scale", "readings", "answers", "page", "tables", "columns", "records", "origin", "file"],
    "Tables": ["extra"],
    "Weighing": None,
    "Solution": None,
    "read_piece": ["path", "settings"],
    "find_settings": ["option"],
    "weigh": [
        "mass",
        "displaced",
        "in_water",
        "scale_step",
        "u_scale",
        "thread",
        "thread_length",
        "u_thread",
        "water",
        "liquid_density",
        "air",
        "wetting",
        "area",
        "known_good",
        "count",
        "parts",
    ],
    "solve": ["piece", "settings", "tables", "prior"],
    "Routine": None,
    "Summary": ["rows", "decisions", "firsts", "notes", "cautions", "errors", "first_errors", "lacking"],
    "solve_many": [
        "source",
        "answers",
        "executor",
        "settings",
        "prior",
        "jobs",
        "resume",
        "told",
        "chunk",
        "wide",
        "overwrite",
    ],
    "schema": ["document"],
    "sources": ["answer", "form", "tables"],
    "routine": ["piece", "readings", "settings", "tables", "prior"],
    "mixtures": ["density", "metals", "sizes", "tables", "evidence"],
    "constructions": ["density", "claim", "only", "tables", "piece"],
    "bounds": [
        *("density", "metals", "at_least", "at_most", "ratios", "without"),
        *("conductivity", "surface", "tables"),
    ],
    "nearest": [
        *("claim", "density", "metals", "at_least", "at_most", "ratios", "without"),
        *("conductivity", "surface", "tables"),
    ],
    "figures": None,
}

# what a fresh answer and one that was read back have in common
DOCUMENTED = {"systems", "candidates", "to_dict", "to_json", "from_dict", "from_json"}

METHODS = {
    "Piece": {"from_dict", "to_dict", "with_", "inclusions", "readings", "shape", "echo"},
    "Settings": {"from_dict", "to_dict", "with_known_good", "resolve"},
    "Solution": {
        "mass_g",
        "precious",
        "likely_precious",
        "holds",
        "share_counted",
        "claimed",
        "samples",
        "density",
        "document",
        "reading_rows",
        "beside_claim",
        "content_as_claimed",
        "layer_as_claimed",
        "share_as_claimed",
        "share_meeting_claim",
        "may_be_hollow",
        "next_readings",
        "first_under_other_prior",
        "conflicts",
        "blind_spots",
        *DOCUMENTED,
    },
    "Answer": {
        "claim",
        "decision",
        "density",
        "precious",
        "next_readings",
        "conflicts",
        "blind_spots",
        *DOCUMENTED,
    },
    "Routine": {"table", "to_dict"},
    "Summary": {"add", "to_dict"},
    "Conductivity": {"iacs", "resistivity", "to_dict", "observed", "findings"},
    "Magnet": {"of_part", "to_dict", "observed", "findings"},
    "Resonance": {"of", "to_dict", "observed", "findings"},
    "SkinAnswer": {"to_dict", "observed", "findings"},
    "SlidingMagnet": {"to_dict", "observed", "findings"},
    "SoundSpeed": {"to_dict", "observed", "findings"},
    "SurfaceComposition": {"total", "to_dict", "observed", "findings"},
    "Tables": {"files", "rows", "hashes", "version", "metals", "grades", "families", "claim_priors"},
}

# words a parameter would carry if readings were to be met rather than explained, or money made of the answer
AIMS = (
    "target",
    "goal",
    "desired",
    "wanted",
    "pass",
    "aim",
    "fool",
    "evade",
    "detector",
    "hide",
    "price",
    "cost",
    "cheap",
    "supplier",
    "recipe",
    "process",
    "design",
)


def public_functions():
    for name in PUBLIC:
        thing = getattr(alloysolve, name)
        if inspect.isfunction(thing):
            yield name, thing
        for method in METHODS.get(name, ()):
            found = inspect.getattr_static(thing, method)
            found = getattr(found, "__func__", getattr(found, "fget", getattr(found, "func", found)))
            yield f"{name}.{method}", found


def test_the_public_names_are_these():
    assert set(alloysolve.__all__) == set(PUBLIC)
    assert dir(alloysolve) == sorted(alloysolve.__all__)
    assert list(alloysolve.__all__) == sorted(alloysolve.__all__, key=lambda n: (n[0].islower(), n))


@pytest.mark.parametrize(("name", "parameters"), [(n, p) for n, p in PUBLIC.items() if p])
def test_what_each_takes(name, parameters):
    assert list(inspect.signature(getattr(alloysolve, name)).parameters) == parameters


def test_every_public_class_has_its_methods_pinned():
    plain = {"AlloysolveError", "InputError", "SolverError", "TableError", "Measured", "Weighing"}  # values only
    classes = {n for n in PUBLIC if inspect.isclass(getattr(alloysolve, n))}
    assert classes == plain | set(METHODS)
    for name in plain:
        thing = getattr(alloysolve, name)
        assert not {m for m, f in vars(thing).items() if inspect.isfunction(f) and not m.startswith("_")}, name


@pytest.mark.parametrize("name", METHODS)
def test_methods_are_these(name):
    public = {m for m in dir(getattr(alloysolve, name)) if not m.startswith("_")}
    fields = set(getattr(getattr(alloysolve, name), "__dataclass_fields__", ()))
    assert public - fields == METHODS[name]


def test_readings_come_in_and_answers_go_out():
    """No function takes readings to be met and gives a construction: all take what was read of one piece.

    The only ones that give constructions take a density or a `Piece`, and leave nothing to aim at: no
    parameter asks for a look, a reading to be reached or a gain.
    """
    for name, function in public_functions():
        for parameter in inspect.signature(function).parameters:
            assert not any(word in parameter.lower().split("_") for word in AIMS), (name, parameter)
    gives_constructions = {"solve", "solve_many", "constructions", "mixtures", "bounds", "nearest"}
    assert {n for n, f in public_functions() if "." not in n} - gives_constructions == {
        "routine",
        "schema",
        "sources",
        "read_piece",
        "find_settings",
        "weigh",
    }


def test_what_a_routine_misses_is_told_in_classes_without_sizes():
    """Limits in numbers belong to the reading: no thickness, composition or filling stands in a routine."""
    found = alloysolve.routine({"claim": "gold 999", "mass": "31.1 g"}, ["weighing", "conductivity"])
    assert {f.name for f in dataclasses.fields(found.classes[0])} == {
        "name",
        "common",
        "shown",
        "closed_by",
        "closed",
        "finer_scale",
    }
    assert not any(c.isdigit() for row in found.classes for c in row.name)


def test_every_public_thing_says_what_it_does():
    for name in PUBLIC:
        assert (getattr(alloysolve, name).__doc__ or "").strip(), name
    for name, function in public_functions():
        assert (function.__doc__ or "").strip(), name


def test_an_unknown_name_is_no_attribute():
    with pytest.raises(AttributeError, match="no attribute 'solvent'"):
        _ = alloysolve.solvent


@pytest.mark.parametrize("error", [alloysolve.InputError, alloysolve.SolverError, alloysolve.TableError])
def test_errors_have_one_base_and_say_four_things(error):
    e = error("mass", "-3 g", "a mass above zero", "weigh again")
    assert isinstance(e, alloysolve.AlloysolveError)
    assert (e.path, e.given, e.expected, e.next_step) == ("mass", "-3 g", "a mass above zero", "weigh again")
    assert str(e) == "mass: '-3 g': expected a mass above zero; weigh again"


def loaded_by(statement):
    code = f"import sys\n{statement}\nprint(' '.join(sorted({{m.split('.')[0] for m in sys.modules}})))"
    return set(
        subprocess.run(
            [sys.executable, "-W", "error", "-c", code], capture_output=True, text=True, check=True
        ).stdout.split()
    )


def test_importing_loads_no_numbers():
    assert not loaded_by("import alloysolve") & {"numpy", "scipy", "pandas", "cvxpy", "click", "matplotlib"}
    assert not loaded_by("from alloysolve import Piece, Settings") & {
        "scipy",
        "pandas",
        "cvxpy",
        "click",
        "matplotlib",
    }
