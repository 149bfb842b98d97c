import numpy as np
import pytest

from fefoot.device import FootLandmarks
from fefoot.device.ramp import ramp


def reference_plantar(x, z):
    """Plantar surface of the reference foot (formula of the reference anatomy's `yp`)."""
    x, z = np.broadcast_arrays(np.asarray(x, float), np.asarray(z, float))
    arch = 20 * ramp((x - 52) / 56) * (1 - ramp((x - 112) / 56))
    arch = arch * (0.12 + 0.88 * (1 - ramp((z + 26) / 62)))
    heel = 0.0022 * z**2 * (1 - ramp((x - 70) / 50)) + 0.012 * np.maximum(22 - x, 0) ** 2
    front = 0.001 * (z - 3) ** 2 * ramp((x - 120) / 50) + 0.0012 * np.maximum(x - 195, 0) ** 2
    return arch + heel + front


@pytest.fixture
def foot():
    """Landmarks of the reference foot: 255 mm long, heel 65, forefoot 98 mm wide."""
    return FootLandmarks(
        length_mm=255.0, heel_width_mm=65.0, forefoot_width_mm=98.0, heel_centre_x_mm=34.0,
        metatarsal_head_x_mm=(185.0, 190.0, 186.0, 178.0, 167.0),
        metatarsal_head_z_mm=(-27.0, -7.0, 9.0, 24.5, 39.5),
        arch_apex_x_mm=110.0, plantar=reference_plantar,
    )
