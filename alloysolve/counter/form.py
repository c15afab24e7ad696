"""The fields of the form, from the schema of a piece and the registry of readings, and what was typed into them."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from ..entry import Entry, shown
from ..errors import AlloysolveError, InputError
from ..inputs.bare import with_units
from ..inputs.claim import parse_claim
from ..inputs.piece import OF_WEIGHING, SCHEMA, Piece
from ..inputs.settings import ASSUMED, Settings, tables_of
from ..readings.recording import without_files
from ..readings.registry import KINDS
from ..units import DIMENSIONS
from ..words.cautions import caution_words
from ..words.language import Language

FIRST = ("name", "claim", "mass")
# what belongs to a weighing of another kind than the one that the shop is set up for
SELDOM = ("displaced", "in_water", "density", *OF_WEIGHING, "scale_step")
LONGEST = 2000  # letters of a field in which reading them all takes time; nothing that is read is a tenth as long
FILES = ("recording",)  # keys of readings that name a file, which a browser cannot


@dataclass(frozen=True, slots=True)
class Field:
    """One field of the form.

    Parameters
    ----------
    name : as in a piece file, with a dot before a further key of a reading: "conductivity.place".
    label, hint : for people; the hint is the help text of the schema, with the caution that a reading needs.
    unit : the unit of a bare number, or "".
    words : the words that may be chosen; empty if anything may be typed.
    tick : whether it is only ticked.
    """

    name: str
    label: str
    hint: str
    unit: str = ""
    words: tuple[str, ...] = ()
    tick: bool = False


@dataclass(frozen=True, slots=True)
class Group:
    """Fields that stand together; those with a title are folded away at first."""

    title: str
    fields: tuple[Field, ...]


def form(shop: Settings, say: Language) -> tuple[Group, ...]:
    """Every field of a piece once: first those of each piece and what the shop reads, then the rest by groups."""
    listed = [kind.replace(" ", "_") for kind in shop.readings.own]
    own = [*listed, *(kind for kind in ASSUMED if kind in KINDS and kind not in listed)]
    first = [*FIRST, shop.scale.read_in_water, "parts"]
    rest = [name for name in SCHEMA if name not in (*first, *KINDS, "reading")]
    rest.sort(key=lambda name: name in SELDOM)
    others = [kind for kind in KINDS if kind not in own]
    return (
        Group("", tuple(_of_piece(name, say) for name in first) + tuple(_of_kind(kind, say) for kind in own)),
        Group(say.say("counter", "more_piece"), tuple(_of_piece(name, say) for name in rest)),
        Group(say.say("counter", "more_own"), tuple(f for kind in own for f in _further(kind, say))),
        Group(
            say.say("counter", "more_kinds"),
            tuple(f for kind in others for f in (_of_kind(kind, say), *_further(kind, say))),
        ),
    )


def names(groups: Iterable[Group]) -> list[str]:
    """Names of all fields, in order."""
    return [field.name for group in groups for field in group.fields]


def _of_piece(name: str, say: Language) -> Field:
    entry, label = SCHEMA[name], _label(name, say)
    return _field(name, label, entry, f"{entry.help}: {' x '.join(entry.sizes)}" if entry.sizes else entry.help)


def _label(name: str, say: Language) -> str:
    return say.say("field", name) if say.has("field", name) else name.replace("_", " ")


def _of_kind(kind: str, say: Language) -> Field:
    of = KINDS[kind]
    caution = caution_words([of.caution], say) if of.caution else ""
    value = of.entries["value"]
    hint = "" if value.words else of.help  # words that may be chosen say enough
    return _field(kind, say.say(kind, "name"), value, ". ".join(filter(None, (hint, caution))), bare=False)


def _further(kind: str, say: Language) -> list[Field]:
    """The keys of a reading beside its value."""
    name = say.say(kind, "name")
    keys = [key for key in KINDS[kind].entries if key not in ("value", *FILES)]
    entries = {key: KINDS[kind].entries[key] for key in keys}
    return [_field(f"{kind}.{key}", f"{name}: {_label(key, say)}", of, of.help) for key, of in entries.items()]


def _field(name: str, label: str, entry: Entry, hint: str, bare: bool = True) -> Field:
    of = DIMENSIONS.get(entry.dimension)
    return Field(
        name, label, hint, of.default if of and bare and not entry.ask else "", entry.words, entry.dimension == "flag"
    )


def typed(values: Mapping[str, str], known: Iterable[str]) -> dict[str, str]:
    """What was typed into known fields, without the empty ones."""
    return {name: values[name].strip() for name in known if values.get(name, "").strip()}


def read(given: Mapping[str, str], shop: Settings) -> tuple[Piece | None, dict[str, str]]:
    """The piece that was typed, or None, and for each field that cannot be used what the terminal says of it.

    An error that belongs to no single field has the name "". No file is opened, whatever was typed.
    """
    wrong: dict[str, str] = {}
    with without_files():
        for group in _by_reading(given):
            try:
                _check_length(group)
                if claim := Piece.from_dict(with_units(group, shop)).claim:
                    parse_claim(claim, tables_of(shop))
            except InputError as e:
                if (name := field_of(e.path, given)) in group:  # others are mended by a field that stands elsewhere
                    wrong[name] = str(e)
        if wrong:
            return None, wrong
        try:
            return Piece.from_dict(with_units(given, shop)), {}
        except AlloysolveError as e:
            return None, {field_of(e.path, given): str(e)}


def _check_length(given: Mapping[str, str]) -> None:
    for name, text in given.items():
        if len(text) > LONGEST and name not in ("name", "note"):
            raise InputError(name, shown(text), f"at most {LONGEST} characters", "leave out what does not belong here")


def field_of(path: str, given: Iterable[str]) -> str:
    """The field that the place of an error belongs to, or "": "displaced[1]" belongs to "displaced"."""
    known = {*SCHEMA, *given} - {"reading"}
    return max((n for n in known if path == n or path.startswith((f"{n}[", f"{n}."))), key=len, default="")


def _by_reading(given: Mapping[str, str]) -> list[dict[str, str]]:
    """The fields by what they describe: each alone, those of one reading together."""
    out: dict[str, dict[str, str]] = {}
    for name, value in given.items():
        out.setdefault(name.partition(".")[0], {})[name] = value
    return list(out.values())
