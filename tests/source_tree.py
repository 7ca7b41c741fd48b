"""The tree's own files as the style and docs tests read them."""

import ast
from collections.abc import Iterator
from functools import cache
from pathlib import Path

__all__ = [
    "BELOW_DESK",
    "ROOT",
    "SRC",
    "functions",
    "label",
    "parsed",
    "public_names",
    "python_files",
    "rooms",
]

ROOT = Path(__file__).parents[1]
SRC = ROOT / "src" / "bedstone"

BELOW_DESK = (
    "quantities",
    "ledger",
    "mill",
    "planning",
    "batching",
    "tracing",
    "formulation",
)


def python_files(*folders: str) -> list[Path]:
    """Python files below folders of the tree, in order."""
    return sorted(
        path
        for folder in folders
        for path in (ROOT / folder).rglob("*.py")
        if "__pycache__" not in path.parts
    )


def rooms(*names: str) -> list[Path]:
    """Python files of rooms of the house."""
    return python_files(*(f"src/bedstone/{name}" for name in names))


def label(path: Path) -> str:
    """A file's name as messages show it."""
    return path.relative_to(ROOT).as_posix()


@cache
def parsed(path: Path) -> ast.Module:
    """The syntax tree of a file."""
    return ast.parse(path.read_text(encoding="utf-8"), filename=str(path))


def functions(tree: ast.Module) -> Iterator[tuple[str, ast.FunctionDef | ast.AsyncFunctionDef]]:
    """Every function of a file with its name as written, methods as Class.method."""

    def inside(
        node: ast.AST, before: str
    ) -> Iterator[tuple[str, ast.FunctionDef | ast.AsyncFunctionDef]]:
        for child in ast.iter_child_nodes(node):
            if isinstance(child, ast.FunctionDef | ast.AsyncFunctionDef):
                yield before + child.name, child
                yield from inside(child, f"{before}{child.name}.")
            elif isinstance(child, ast.ClassDef):
                yield from inside(child, f"{before}{child.name}.")
            else:
                yield from inside(child, before)

    yield from inside(tree, "")


def public_names(tree: ast.Module) -> set[str]:
    """What a module offers in ``__all__``."""
    for node in tree.body:
        if isinstance(node, ast.Assign) and any(
            isinstance(target, ast.Name) and target.id == "__all__" for target in node.targets
        ):
            return {str(name) for name in ast.literal_eval(node.value)}
    return set()
