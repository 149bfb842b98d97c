"""Every closed-form and standard problem by name."""

from .beams import BEAMS
from .bodies import BODIES
from .elastic import ELASTIC
from .finite import FINITE
from .hertz import HERTZ
from .modes import MODES
from .punch import PUNCH
from .rates import RATES
from .rubbing import RUBBING
from .thermal import THERMAL
from .touch import TOUCH
from .twice import TWICE

TABLE = {**ELASTIC, **BEAMS, **THERMAL, **FINITE, **MODES, **TOUCH, **HERTZ, **PUNCH, **RUBBING,
         **BODIES, **TWICE, **RATES}
