"""Landmarks, fins, body forms and questions: every definition once, read from data/*.toml."""

from __future__ import annotations

from collections.abc import Mapping
from functools import cache
from pathlib import Path
from types import MappingProxyType

from finmeasure.errors import DefinitionError
from finmeasure.landmarks.records import (
    LONG_FIN,
    BodyForm,
    FinDefinition,
    FinTell,
    LandmarkDefinition,
    Question,
)
from finmeasure.landmarks.toml_tables import TomlTable, read_toml

__all__ = [
    "BODY_PARTS",
    "LONG_FIN",
    "BodyForm",
    "FinDefinition",
    "FinTell",
    "LandmarkDefinition",
    "Question",
    "body_form",
    "body_forms",
    "fin_definitions",
    "landmark_definition",
    "landmark_definitions",
    "points_for",
    "questions",
    "read_body_form",
    "read_fin_definitions",
    "read_landmark_definitions",
    "read_questions",
]

_DATA = Path(__file__).with_name("data")
_GRADES = ("published", "common practice")
BODY_PARTS = ("head", "body")
"""Groups of landmarks that are no fins."""


@cache
def landmark_definitions() -> Mapping[str, LandmarkDefinition]:
    """All landmarks by name, in the order head, body, then fin by fin."""
    return MappingProxyType(read_landmark_definitions(_DATA / "landmarks.toml"))


@cache
def fin_definitions() -> Mapping[str, FinDefinition]:
    """All fins by name."""
    return MappingProxyType(read_fin_definitions(_DATA / "fins.toml"))


@cache
def body_forms() -> Mapping[str, BodyForm]:
    """All body forms by id, ``plain`` first; long-fin variants come from :func:`body_form`."""
    forms = [read_body_form(path) for path in sorted((_DATA / "body_forms").glob("*.toml"))]
    forms.sort(key=lambda form: (form.id != "plain", form.id))
    return MappingProxyType({form.id: form for form in forms})


@cache
def questions() -> Mapping[str, Question]:
    """All questions by id; ``fin`` stands for ``fin:NAME``."""
    return MappingProxyType(read_questions(_DATA / "questions.toml"))


def landmark_definition(name: str) -> LandmarkDefinition:
    """Definition of one landmark by its contract name.

    Raises
    ------
    DefinitionError
        If there is no such landmark; the text names those there are.
    """
    if name not in landmark_definitions():
        message = f"Landmark {name!r} is not known. Allowed: {', '.join(landmark_definitions())}."
        raise DefinitionError(message)
    return landmark_definitions()[name]


def body_form(form_id: str) -> BodyForm:
    """One body form by its id, ``ID`` or ``ID+long_fin``.

    Raises
    ------
    DefinitionError
        If there is no such body form; the text names those there are.

    Examples
    --------
    >>> body_form("puffer").fins
    ('dorsal', 'caudal', 'anal', 'pectoral')
    >>> body_form("betta+long_fin").long_fin
    True
    """
    base = form_id.removesuffix(LONG_FIN)
    if base not in body_forms():
        allowed = ", ".join(body_forms())
        message = (
            f"Body form {form_id!r} is not known. {_forms_of_kind(base)}"
            f"Allowed: {allowed}; add {LONG_FIN} to one."
        )
        raise DefinitionError(message)
    form = body_forms()[base]
    return form.as_long_fin() if form_id.endswith(LONG_FIN) else form


def _forms_of_kind(kind: str) -> str:
    """Say which body form a kind of fish has, where it is among the examples."""
    stem = kind.casefold().replace("_", " ").strip().removesuffix("s")
    fitting = [
        form.id
        for form in body_forms().values()
        if len(stem) > 2 and any(stem in example.casefold() for example in form.examples)
    ]
    return f"For {kind} give {' or '.join(fitting)}. " if fitting else ""


def points_for(question: str, form_id: str = "plain") -> tuple[str, ...]:
    """Landmarks that a question needs, in the order in which they are asked.

    Parameters
    ----------
    question : str
        ``size``, ``sex``, ``fin:NAME`` or ``full``.
    form_id : str
        Body form.

    Returns
    -------
    tuple of str
        Landmark names.

    Raises
    ------
    DefinitionError
        If the question, the fin or the body form is not known.

    Examples
    --------
    >>> points_for("sex", "livebearer")
    ('snout_tip', 'caudal_base', 'anal_origin', 'anal_tip')
    """
    form = body_form(form_id)
    kind, _, fin = question.partition(":")
    if kind not in questions() or bool(fin) != (kind == "fin"):
        message = f"Question {question!r} is not known. Allowed: size, sex, fin:NAME, full."
        raise DefinitionError(message)
    if kind == "full":
        return form.landmarks
    if kind != "fin":
        return form.questions[kind]
    fin = _fin_meant(fin)
    if fin not in form.fins:
        allowed = ", ".join(f"fin:{name}" for name in form.fins)
        message = f"{form.shown} has no fin {fin!r}. Allowed: {allowed}."
        raise DefinitionError(message)
    return tuple(dict.fromkeys(questions()["fin"].points + form.by_fin[fin]))


def _fin_meant(word: str) -> str:
    """Fin that a typed word means; refuses a word that means two fins."""
    for fin in fin_definitions().values():
        if word in fin.ask_when_typed:
            message = f"{word!r} can mean two fins. Allowed: fin:pelvic (pair), fin:anal (single)."
            raise DefinitionError(message)
        if word in fin.synonyms:
            return fin.name
    return word


def read_landmark_definitions(path: Path) -> dict[str, LandmarkDefinition]:
    """Read a file of landmark definitions; every key is checked.

    Raises
    ------
    TableError
        Naming file and line of what is not allowed.
    """
    file = read_toml(path)
    return {name: _landmark(file.table(name), name) for name in file.values}


def _landmark(table: TomlTable, name: str) -> LandmarkDefinition:
    table.refuse_unknown(set(LandmarkDefinition.__dataclass_fields__) - {"name"})
    words = {key: table.word(key) for key in ("shown", "definition", "exact", "source", "u_source")}
    return LandmarkDefinition(
        name=name,
        fin=_one_of(table, "fin", (*BODY_PARTS, *fin_definitions())),
        grade=_one_of(table, "grade", _GRADES),
        synonyms=table.words("synonyms"),
        u_along_pct_sl=table.number("u_along_pct_sl", 0.01, 20),
        u_across_pct_sl=table.number("u_across_pct_sl", 0.01, 20),
        **words,
    )


def read_fin_definitions(path: Path) -> dict[str, FinDefinition]:
    """Read a file of fin definitions; every key is checked.

    Raises
    ------
    TableError
        Naming file and line of what is not allowed.
    """
    file = read_toml(path)
    return {name: _fin(file.table(name), name) for name in file.values}


def _fin(table: TomlTable, name: str) -> FinDefinition:
    table.refuse_unknown(set(FinDefinition.__dataclass_fields__) - {"name"})
    synonyms = table.words("synonyms")
    ask = table.words("ask_when_typed", synonyms)
    paired = table.yes_or_no("paired")
    return FinDefinition(
        name, table.word("shown"), synonyms, ask, paired, where=table.word("where")
    )


def read_questions(path: Path) -> dict[str, Question]:
    """Read a file of questions; every key is checked.

    Raises
    ------
    TableError
        Naming file and line of what is not allowed.
    """
    file = read_toml(path)
    return {name: _question(file.table(name), name) for name in file.values}


def _question(table: TomlTable, name: str) -> Question:
    table.refuse_unknown({"shown", "answer", "points"})
    points = table.words("points", landmark_definitions())
    return Question(name, table.word("shown"), table.word("answer"), points)


def read_body_form(path: Path) -> BodyForm:
    """Read one body form; every key and every landmark in it is checked.

    Raises
    ------
    TableError
        Naming file and line of what is not allowed.
    """
    file = read_toml(path)
    derived = {"fins", "by_fin", "sex_note"}
    file.refuse_unknown(set(BodyForm.__dataclass_fields__) - derived)
    by_fin = _landmarks_by_fin(file.table("landmarks"))
    fins = tuple(fin for fin in by_fin if fin not in BODY_PARTS)
    return BodyForm(
        id=file.word("id"),
        shown=file.word("shown"),
        examples=file.words("examples"),
        fins=fins,
        landmarks=tuple(name for names in by_fin.values() for name in names),
        by_fin=MappingProxyType(by_fin),
        tells=MappingProxyType(_tells(file.table("tells"), fins)),
        absent=_absent(file, by_fin),
        notes=file.words("notes"),
        spiny=file.words("spiny", fins),
        natural_notches=file.words("natural_notches", fins),
        free_tips=file.words("free_tips", fins),
        free_tips_long_fin=file.words("free_tips_long_fin", fins),
        long_fin=file.yes_or_no("long_fin"),
        side_view_tells_little=file.yes_or_no("side_view_tells_little"),
        questions=MappingProxyType(_points(file.table("questions"), by_fin)),
        sex_note=file.table("questions").word("sex_note"),
        grade=_one_of(file, "grade", _GRADES),
        source=file.word("source"),
    )


def _landmarks_by_fin(table: TomlTable) -> dict[str, tuple[str, ...]]:
    table.refuse_unknown((*BODY_PARTS, *fin_definitions()))
    return {
        fin: table.words(fin, [d.name for d in landmark_definitions().values() if d.fin == fin])
        for fin in table.values
    }


def _absent(file: TomlTable, by_fin: Mapping[str, tuple[str, ...]]) -> tuple[str, ...]:
    """Landmarks of fins that are not there, and those named; in the order of the definitions."""
    present = {name for names in by_fin.values() for name in names}
    named = file.words("absent", [name for name in landmark_definitions() if name not in present])
    return tuple(
        name
        for name, definition in landmark_definitions().items()
        if name in named or (definition.fin not in by_fin and definition.fin not in BODY_PARTS)
    )


def _tells(table: TomlTable, fins: tuple[str, ...]) -> dict[str, FinTell]:
    table.refuse_unknown(fins)
    tells = {}
    for fin in fins:
        entry = table.table(fin)
        entry.refuse_unknown({"text", "grade", "source", "synonyms"})
        grade = _one_of(entry, "grade", _GRADES)
        tells[fin] = FinTell(
            entry.word("text"), grade, entry.word("source"), entry.words("synonyms")
        )
    return tells


def _points(table: TomlTable, by_fin: Mapping[str, tuple[str, ...]]) -> dict[str, tuple[str, ...]]:
    """Points of ``size`` and ``sex``: the body form's own, else the usual ones."""
    table.refuse_unknown({"size", "sex", "sex_note"})
    present = [name for names in by_fin.values() for name in names]
    own = {key: table.words(key, present) for key in ("size", "sex") if key in table.values}
    return {key: own.get(key, questions()[key].points) for key in ("size", "sex")}


def _one_of(table: TomlTable, key: str, allowed: tuple[str, ...]) -> str:
    value = table.word(key)
    if value not in allowed:
        table.refuse(key, f"{key} is {value!r}", ", ".join(allowed))
    return value
