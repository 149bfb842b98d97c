"""Published findings beside the model: numbers, signs, orders and negative controls.

Nothing here is tuned to a finding. What the calibration of the arch used
(``fefoot/study/calibrate.py``) is marked and does not count as validated.
"""

from .arch import ARCH
from .forefoot import FOREFOOT
from .heel import HEEL
from .insoles import INSOLES
from .posting import POSTING
from .standing import STANDING
from .support import SUPPORT

FINDINGS = {**STANDING, **HEEL, **ARCH, **POSTING, **INSOLES, **FOREFOOT, **SUPPORT}
"""Every study by name; a row of one of them is a Finding."""
