"""The exception tree.

::

    FefootError
    ├── InputError            what the user wrote is wrong            exit code 2
    ├── ConvergenceError      a solve that did not reach equilibrium  exit code 3
    ├── CheckError            a solve that fails its own checks       exit code 3
    ├── LinearSolverError     every linear solver of the chain failed exit code 4
    └── MeshError             a mesh that cannot be used              exit code 4
"""

from __future__ import annotations

import difflib
import re
from collections.abc import Iterable, Mapping

_WORD = re.compile(r"[\w.-]+")


class FefootError(Exception):
    """Base of every error raised on purpose; the command line prints it without a traceback."""

    exit_code = 1


class InputError(FefootError):
    """One mistake in what the user wrote.

    Parameters
    ----------
    problem
        What is wrong, as a short clause.
    file, key, value
        Where it is; left out of the message when ``None``.
    line
        Number and text of the line it stands in.
    allowed
        What would be accepted.
    hint
        What to do.
    """

    exit_code = 2

    def __init__(self, problem, *, file=None, key=None, value=None, allowed=None, hint=None,
                 line: tuple[int, str] | None = None):
        self.problem, self.file, self.key, self.value = problem, file, key, value
        self.allowed, self.hint, self.line = allowed, hint, line
        where = ": ".join(str(part) for part in (file, key) if part is not None)
        lines = [f"{where}: {problem}" if where else problem]
        if line is not None:
            lines.append(f"  line {line[0]}: {line[1]}")
        if value is not None:
            text = repr(value)
            lines.append(f"  found:   {text if len(text) <= 120 else text[:117] + '...'}")
        if allowed is not None:
            lines.append(f"  allowed: {allowed}")
        if hint is not None:
            lines.append(f"  do:      {hint}")
        super().__init__("\n".join(lines))


class ConvergenceError(FefootError):
    """Newton's method stopped before equilibrium.

    Attributes
    ----------
    history : list of dict
        One row per Newton iteration: step, load factor, residual, contact state.
    """

    exit_code = 3

    def __init__(self, problem: str, history: list[dict] | None = None):
        self.history = history or []
        super().__init__(problem)


class CheckError(FefootError):
    """A converged solve whose force balance, penetration or element quality is out of bounds."""

    exit_code = 3


class LinearSolverError(FefootError):
    """No solver of the chain returned a solution whose residual is small."""

    exit_code = 4


class MeshError(FefootError):
    """A mesh with inverted elements, missing tags or no surface."""

    exit_code = 4


def nearest(name: object, known: Iterable[str],
            everyday: Mapping[str, tuple[str, ...]] | None = None) -> str | None:
    """Return the known name that ``name`` seems to mean, or ``None`` when nothing is close.

    In this order: the same in other letters (case, blanks, hyphens), the only one that begins so, an
    everyday word for it, the name or everyday word spelt most alike, the longest that ``name`` begins
    with.
    """
    known = [str(k) for k in known]
    word = "_".join(str(name).casefold().replace("-", " ").split())
    begun = [k for k in known if word and k.casefold().startswith(word)]
    same = [k for k in begun if k.casefold() == word]
    means = {said: [k for k in names if k in known] for said, names in (everyday or {}).items()}
    means = {said: names for said, names in means.items() if names} | {k: [k] for k in known}
    alike = [k for said in difflib.get_close_matches(str(name), means, n=1, cutoff=0.5)
             for k in means[said]]
    within = sorted((k for k in known if len(k) > 2 and word.startswith(k.casefold())), key=len)
    meant = means.get(word, [])
    for found in (same, begun if len(begun) == 1 else [], meant, alike, within[-1:]):
        if found:
            return found[0]
    return None


def unknown_name(kind: str, name: object, known: Iterable[str], *, file=None, key=None,
                 everyday: Mapping[str, tuple[str, ...]] | None = None) -> InputError:
    """Build the error for a name that is not in a table, listing the table and the nearest entry.

    Names that are not single words stand in quotes. ``everyday`` holds other words for the names.
    """
    known = sorted(str(k) for k in known)
    close = nearest(name, known, everyday)
    plain = all(_WORD.fullmatch(k) for k in known)
    return InputError(
        f"unknown {kind}", file=file, key=key, value=name,
        allowed=", ".join(known if plain else map(repr, known)),
        hint=f"write {close!r}" if close else "choose one of the allowed names",
    )
