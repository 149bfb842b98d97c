"""The committed file keeps the sections that a partial run does not renew."""

from benchmarks import __main__ as command
from benchmarks.__main__ import LONG, RESULTS, SECTIONS, kept
from benchmarks.table import TABLE


def test_every_problem_and_section_is_committed():
    text = RESULTS.read_text(encoding="utf-8")
    titles = {name: f"## {title}" for name, (title, _) in SECTIONS.items()}
    there = list(kept(text))
    assert there == [title for title in titles.values() if title in there]
    assert set(there) >= {title for name, title in titles.items() if name not in LONG}
    for name in TABLE:
        assert f"({name}, " in text, name


def test_one_section_is_renewed_and_the_others_are_kept(tmp_path, monkeypatch):
    file = tmp_path / "RESULTS.md"
    monkeypatch.setattr(command, "RESULTS", file)
    sections = {"closed": ("A", lambda full, compute: ["a1"]),
                "speed": ("B", lambda full, compute: ["b1", "b2"])}
    monkeypatch.setattr(command, "SECTIONS", sections)
    monkeypatch.setattr("sys.argv", ["benchmarks", "--write"])
    assert command.main() == 0
    sections["closed"] = ("A", lambda full, compute: ["a2 **out**"])
    monkeypatch.setattr("sys.argv", ["benchmarks", "--only", "closed", "--write"])
    assert command.main() == 1
    text = file.read_text(encoding="utf-8")
    assert "a2" in text and "a1" not in text and "b1\nb2" in text
    assert text.index("## A") < text.index("## B")
    made = []
    sections["closed"] = ("A", lambda full, compute: made.append(compute) or ["a3"])
    for flags in ([], ["--kept"]):
        monkeypatch.setattr("sys.argv", ["benchmarks", "--only", "closed", *flags])
        assert command.main() == 0
    assert made == [True, False]
