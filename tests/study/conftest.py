"""Fixtures for the tests of the study."""

import pytest


@pytest.fixture
def write(tmp_path):
    """Write a case file into the test's folder."""
    def to(text, name="case.toml"):
        file = tmp_path / name
        file.write_text(text, encoding="utf-8")
        return file

    return to
