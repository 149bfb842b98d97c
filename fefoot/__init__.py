"""fefoot: what a foot and what lies under it do to the tissues inside, by finite elements.

A research model: it makes no diagnosis and writes no prescription.
"""

from importlib import import_module

__version__ = "0.1.0"

_HOME = {
    "read_case": "fefoot.case",
    "compare": "fefoot.study.compare",
    "materials": "fefoot.material",
}

__all__ = ["__version__", "compare", "materials", "read_case"]


def __getattr__(name):
    if name in _HOME:
        return getattr(import_module(_HOME[name]), name)
    raise AttributeError(f"module 'fefoot' has no attribute {name!r}")


def __dir__():
    return sorted(__all__)
