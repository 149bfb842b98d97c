"""What the user wrote, checked: the case file, its schema, and the tissues it can ask about."""

from .emit import resolved_toml
from .reader import case_from_dict, read_case
from .tissues import TISSUES
from .values import ActivityChoice, Case, Person, Solver

__all__ = [
    "TISSUES", "ActivityChoice", "Case", "Person", "Solver", "case_from_dict", "read_case",
    "resolved_toml",
]
