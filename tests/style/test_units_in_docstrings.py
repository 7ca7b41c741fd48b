"""A docstring's unit is data: it must agree with the suffix of the name."""

import ast
import re
from pathlib import Path
from typing import NamedTuple

import pytest

from source_tree import BELOW_DESK, label, parsed, public_names, rooms

# suffix to the units that may stand in brackets; the longest suffix that fits counts
UNITS = {
    "kg": {"kg"}, "mg": {"mg"}, "t": {"t"},
    "kg_s": {"kg/s"}, "t_h": {"t/h"},
    "mg_kg": {"mg/kg"}, "kg_t": {"kg/t"}, "kg_m3": {"kg/m3"},
    "m": {"m"}, "m2": {"m2"}, "m3": {"m3"}, "m3_s": {"m3/s"}, "mm": {"mm"}, "um": {"um"},
    "wb": {"kg/kg"}, "db": {"kg/kg"}, "frac": {"1", "0 to 1", "kg/kg"},
    "usd_t": {"USD/t"}, "usd_h": {"USD/h"}, "usd_t_h": {"USD/(t h)"}, "cents100": {"0.0001 USD"},
    "pa": {"Pa"}, "c": {"degrees C"}, "dk": {"K"},
    "kw": {"kW"}, "kj_kg": {"kJ/kg"}, "kj_kg_k": {"kJ/(kg K)"},
    "s": {"s"}, "h": {"h"},
}  # fmt: skip
# what is no unit: sd, lo, hi, min ... say what kind of value it is and stand after the unit or not
QUALIFIERS = ("sd", "lo", "hi", "min", "max", "target", "best", "set", "seen", "in", "out")
NUMBERS = {
    "float",
    "int",
    "Fraction",
    "Decimal",
    "tuple",
    "np",
    "npt",
    "ndarray",
    "NDArray",
    "float64",
}
# rooms that reckon with quantities; the ledger adds up, planning searches, tracing walks
EQUATION_ROOMS = ("quantities", "materials", "mill", "batching")
SECTION = re.compile(r"^(\w[\w ]*)\n-{3,}\s*$", re.MULTILINE)
ENTRY = re.compile(r"^(\S[^:\n]*?) : (.+)$", re.MULTILINE)

FILES = rooms(*BELOW_DESK)


class Entry(NamedTuple):
    """One name of a Parameters or Returns section, with what is said of it."""

    name: str
    text: str


def unit_suffix(name: str) -> str | None:
    """The unit that a name ends in, None if it has none."""
    parts = name.split("_")
    while parts and parts[-1] in QUALIFIERS:
        parts.pop()
    for count in (3, 2, 1):
        suffix = "_".join(parts[-count:])
        if len(parts) > count and suffix in UNITS:
            return suffix
    return None


def sections(docstring: str) -> dict[str, str]:
    """The sections of a docstring by heading."""
    found = list(SECTION.finditer(docstring))
    ends = [*(match.start() for match in found[1:]), len(docstring)][: len(found)]
    return {
        match.group(1).strip(): docstring[match.end() : end]
        for match, end in zip(found, ends, strict=True)
    }


def entries(text: str) -> list[Entry]:
    """The names of a section with their text, in order."""
    found = list(ENTRY.finditer(text))
    ends = [*(match.start() for match in found[1:]), len(text)][: len(found)]
    return [
        Entry(name.strip().lstrip("*"), text[match.end() : end].strip())
        for match, end in zip(found, ends, strict=True)
        for name in match.group(1).split(",")
    ]


def wrong_units(found: list[Entry]) -> list[str]:
    """Entries whose bracket at the end is not the unit of their suffix."""
    faults = []
    for entry in found:
        suffix = unit_suffix(entry.name)
        if suffix is None:
            continue
        bracket = re.search(r"\[([^\[\]]+)\]$", entry.text)
        said = bracket.group(1) if bracket else "no unit"
        if said not in UNITS[suffix]:
            faults.append(f"{entry.name} says [{said}], its suffix [{min(UNITS[suffix])}]")
    return faults


def arguments(function: ast.FunctionDef) -> list[str]:
    """Names of a function's parameters in signature order."""
    args = function.args
    every = [*args.posonlyargs, *args.args, args.vararg, *args.kwonlyargs, args.kwarg]
    return [item.arg for item in every if item is not None]


def is_equation(function: ast.FunctionDef) -> bool:
    """True for a function that takes a value with a unit and returns nothing but numbers."""
    returns = ast.unparse(function.returns) if function.returns else ""
    has_units = any(unit_suffix(name) for name in arguments(function))
    return has_units and bool(returns) and set(re.findall(r"\w+", returns)) <= NUMBERS


def faults_of(function: ast.FunctionDef, *, reckons: bool) -> list[str]:
    """What a public function's docstring lacks."""
    docstring = ast.get_docstring(function) or ""
    parts = sections(docstring)
    given = entries(parts.get("Parameters", ""))
    faults = wrong_units(given) + wrong_units(entries(parts.get("Returns", "")))
    wanted = arguments(function)
    equation = reckons and is_equation(function)
    if (given or equation) and [entry.name for entry in given] != wanted:
        faults.append(f"Parameters lists {[entry.name for entry in given]}, signature {wanted}")
    if equation:
        faults += [f"no section {name}" for name in ("Returns", "Sources") if name not in parts]
        if "Sources" in parts and not re.search(r"\[1\] \S+", parts["Sources"]):
            faults.append("Sources is empty")
    return faults


def public_functions(path: Path) -> list[ast.FunctionDef]:
    """The functions that a module offers."""
    tree = parsed(path)
    names = public_names(tree)
    return [node for node in tree.body if isinstance(node, ast.FunctionDef) and node.name in names]


@pytest.mark.parametrize("path", FILES, ids=label)
def test_docstrings_name_the_unit_of_the_suffix(path: Path) -> None:
    """Each documented name has its unit, in signature order, and each equation its source."""
    faults = [
        f"{function.name}: {fault}"
        for function in public_functions(path)
        for fault in faults_of(function, reckons=path.parent.name in EQUATION_ROOMS)
    ]
    assert faults == []


@pytest.mark.parametrize("path", FILES, ids=label)
def test_every_module_says_what_it_offers(path: Path) -> None:
    """Each module from the mill's values to the stations has a docstring, and an ``__all__`` with
    names that it really has, unless it only opens its package.
    """
    tree = parsed(path)
    assert ast.get_docstring(tree)
    defined = {
        name
        for node in tree.body
        for name in (
            [node.name]
            if isinstance(node, ast.FunctionDef | ast.ClassDef)
            else [target.id for target in node.targets if isinstance(target, ast.Name)]
            if isinstance(node, ast.Assign)
            else [node.target.id]
            if isinstance(node, ast.AnnAssign) and isinstance(node.target, ast.Name)
            else [alias.asname or alias.name for alias in node.names]
            if isinstance(node, ast.Import | ast.ImportFrom)
            else []
        )
    }
    if path.name != "__init__.py":
        assert public_names(tree)
    assert public_names(tree) <= defined


GOOD = '''
def drying_load(feed_kg_s: float, *, moisture_in_wb: float) -> float:
    """Water that leaves.

    Parameters
    ----------
    feed_kg_s : float
        Pellets entering. [kg/s]
    moisture_in_wb : float
        Moisture. [kg/kg]

    Returns
    -------
    water_kg_s : float
        Water removed. [kg/s]

    Sources
    -------
    [1] Somebody, Something.
    """
'''


@pytest.mark.parametrize(
    ("before", "after"),
    [
        ("entering. [kg/s]", "entering. [t/h]"),
        ("entering. [kg/s]", "entering."),
        ("removed. [kg/s]", "removed. [kg]"),
        ("    [1] Somebody, Something.\n", ""),
        ("Sources\n    -------", "Notes\n    -----"),
        ("    moisture_in_wb : float\n        Moisture. [kg/kg]\n", ""),
        ("feed_kg_s: float, *, moisture_in_wb", "moisture_in_wb: float, *, feed_kg_s"),
    ],
)
def test_each_fault_of_a_docstring_is_found(before: str, after: str) -> None:
    """The check sees a wrong unit, a missing one, a missing entry, another order, no source."""

    def faults(text: str) -> list[str]:
        (function,) = ast.parse(text).body
        assert isinstance(function, ast.FunctionDef)
        return faults_of(function, reckons=True)

    assert faults(GOOD) == []
    assert before in GOOD
    assert faults(GOOD.replace(before, after, 1)) != []
