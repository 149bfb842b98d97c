"""Smooth ramps that every surface and feature is built from."""

from __future__ import annotations

import numpy as np


def ramp(t):
    """Quintic smoothstep S(t) = 6 t^5 - 15 t^4 + 10 t^3 on 0..1, constant outside.

    The first and second derivatives vanish at both ends.
    """
    t = np.clip(t, 0.0, 1.0)
    return t * t * t * (t * (6.0 * t - 15.0) + 10.0)


def positive(u, rounding):
    """Positive part of ``u`` with its corner rounded over -rounding..rounding.

    The integral of the quintic smoothstep: exactly 0 below ``-rounding``, exactly ``u`` above
    ``rounding``, three times differentiable between. ``rounding = 0`` gives max(u, 0).
    """
    u = np.asarray(u, float)
    if rounding <= 0.0:
        return np.maximum(u, 0.0)
    t = np.clip((u + rounding) / (2.0 * rounding), 0.0, 1.0)
    return 2.0 * rounding * t**4 * (t * (t - 3.0) + 2.5) + np.maximum(u - rounding, 0.0)


def capped(u, limit, rounding):
    """Smaller of ``u`` and ``limit``: exactly ``u`` up to ``limit - rounding``."""
    return limit - positive(limit - np.asarray(u, float), rounding)
