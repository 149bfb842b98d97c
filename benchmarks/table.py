"""Every closed-form and standard problem by name."""

from .bodies import BODIES
from .elastic import ELASTIC
from .finite import FINITE
from .touch import TOUCH

TABLE = {**ELASTIC, **FINITE, **TOUCH, **BODIES}
