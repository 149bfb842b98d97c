"""What is asked of the solver: comparisons, calibration, and how they are kept."""
