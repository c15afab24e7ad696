"""How large the package is, and how many modules one piece enters on its way to an answer.

    python tests/independent/house.py [examples/0117-silver-bar.toml]

A module counts as entered if one of its functions runs; imports and class bodies do not count. Code lines leave out
docstrings, comments and blank lines.
"""

from __future__ import annotations

import ast
import contextlib
import io
import sys
import tokenize
from collections.abc import Callable
from pathlib import Path
from types import FrameType
from typing import Any

import alloysolve

ROOT = Path(alloysolve.__file__).parent
EXAMPLE = Path(__file__).parents[2] / "examples" / "0117-silver-bar.toml"
FUNCTION = 0x1  # CO_OPTIMIZED: bodies of functions have it, those of modules and classes do not
LAYOUT = {
    tokenize.COMMENT,
    tokenize.NL,
    tokenize.NEWLINE,
    tokenize.INDENT,
    tokenize.DEDENT,
    tokenize.ENDMARKER,
}


def entered(action: Callable[[], object]) -> set[str]:
    """Modules of the package in which a function runs during an action."""
    seen: set[str] = set()

    def profile(frame: FrameType, event: str, _: Any) -> None:
        if event == "call" and frame.f_code.co_flags & FUNCTION:
            file = frame.f_code.co_filename
            if file.startswith(str(ROOT)):
                seen.add(file)

    sys.setprofile(profile)
    try:
        action()
    finally:
        sys.setprofile(None)
    return seen


def code_lines(text: str) -> int:
    """Lines with code of a module."""
    held = {
        line
        for t in tokenize.generate_tokens(io.StringIO(text).readline)
        if t.type not in LAYOUT
        for line in range(t.start[0], t.end[0] + 1)
    }
    for node in ast.walk(ast.parse(text)):
        body = getattr(node, "body", None)
        first = body[0] if isinstance(body, list) and body else None
        if isinstance(first, ast.Expr) and isinstance(first.value, ast.Constant) and isinstance(first.value.value, str):
            held -= set(range(first.lineno, (first.end_lineno or first.lineno) + 1))
    return len(held)


def main(example: Path) -> None:
    """Prints the counts."""
    from alloysolve import read_piece, solve
    from alloysolve.cli import main as command
    from alloysolve.inputs.settings import Settings

    def shell() -> None:
        sys.argv = ["alloysolve", "solve", str(example)]
        with contextlib.redirect_stdout(io.StringIO()):
            command()

    piece, texts = read_piece(example), [p.read_text(encoding="utf-8") for p in sorted(ROOT.rglob("*.py"))]
    lines = [code_lines(text) for text in texts]
    print(f"modules {len(texts)}, code lines {sum(lines)}, most in one module {max(lines)}")
    print(f"`# fmt: skip` {sum(text.count('# fmt: skip') for text in texts)}")
    print(f"entered by solve {len(entered(lambda: solve(piece, settings=Settings())))}")
    print(f"entered by the command {len(entered(shell))}")


if __name__ == "__main__":
    main(Path(sys.argv[1]) if len(sys.argv) > 1 else EXAMPLE)
