"""The positive part with its corner rounded off, as contact with a barrier needs it."""

from __future__ import annotations

import numpy as np

CUT = 10.0
"""Smoothing lengths beyond which a smoothed pressure is zero."""


def positive_part(trial, rounding):
    """Return max(trial, 0) with its corner rounded over ``rounding``, its slope and its integral.

    (t + sqrt(t^2 + r^2)) / 2, for which pressure times gap tends to r^2 / (4 penalty) whatever the
    penalty; lowered to vanish ``CUT`` rounding lengths below zero.
    """
    sharp = rounding < 1e-12
    r = np.where(sharp, 1.0, rounding)
    t = np.clip(trial / r, -CUT, 1e150)
    root = np.sqrt(t**2 + 1.0)
    floor = 0.5 * (np.sqrt(CUT**2 + 1.0) - CUT)

    def integral(t, root):
        return 0.25 * (t**2 + t * root + np.arcsinh(t)) - floor * t

    begin = integral(-CUT, np.sqrt(CUT**2 + 1.0))
    top = np.maximum(trial, 0.0)
    value = np.where(sharp, top, r * (0.5 * (t + root) - floor))
    slope = np.where(sharp, trial > 0, np.where(t > -CUT, 0.5 * (1.0 + t / root), 0.0))
    with np.errstate(over="ignore"):
        stored = np.where(sharp, 0.5 * top**2, r * r * (integral(t, root) - begin))
    return np.where(t > -CUT, value, 0.0), slope, stored
