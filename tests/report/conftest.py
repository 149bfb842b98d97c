"""The case and comparison that most report tests look at."""

import pytest
from report_cases import usual


@pytest.fixture(name="case")
def usual_case():
    return usual()[0]


@pytest.fixture(name="comparison")
def usual_comparison():
    return usual()[1]
