"""Two hundred spoilt case files: each is read or refused with one message, never a traceback."""

import random
import re
from pathlib import Path

import pytest

from fefoot.cli import main
from fefoot.material import stability

SAMPLE = Path(__file__).with_name("sample.toml").read_text(encoding="utf-8")
VALUES = [
    "nan", "inf", "-inf", "1e400", "-1", "0", "1e308", "123456789012345678901234567890", "true",
    '"72 kg"', '"6 mm"', '""', "[]", "[1, 2]", "{}", "{ a = 1 }", "2024-01-01", "07:32:00",
    '"日本 é ñ"', '"\\u0000"', "'''a\nb'''", "0x" + "f" * 400, "1_000", "-0.0", "5e-324",
]


def lines(rng):
    return SAMPLE.split("\n"), rng.randrange(len(SAMPLE.split("\n")))


def delete_line(rng):
    rows, i = lines(rng)
    return "\n".join(rows[:i] + rows[i + 1:])


def delete_block(rng):
    rows, i = lines(rng)
    return "\n".join(rows[:i] + rows[i + rng.randrange(1, 20):])


def duplicate_block(rng):
    rows, i = lines(rng)
    size = rng.randrange(1, 12)
    return "\n".join(rows[: i + size] + rows[i:])


def swap_lines(rng):
    rows, i = lines(rng)
    j = rng.randrange(len(rows))
    rows[i], rows[j] = rows[j], rows[i]
    return "\n".join(rows)


def change_value(rng):
    rows = SAMPLE.split("\n")
    i = rng.choice([k for k, row in enumerate(rows) if " = " in row])
    rows[i] = rows[i].split(" = ")[0] + " = " + rng.choice(VALUES)
    return "\n".join(rows)


def change_constant(rng):
    return re.sub(r"(mu_MPa|alpha|nu) = (\[[0-9.]+\]|0.1)",
                  lambda m: f"{m[1]} = {rng.choice([*VALUES, '[1e200]', '[-1e-200]', '[900]'])}",
                  SAMPLE)


def change_key(rng):
    rows = SAMPLE.split("\n")
    i = rng.choice([k for k, row in enumerate(rows) if " = " in row])
    rows[i] = rng.choice(["x", '"a b"', "é", "_", '"\\u001b[31m"', "a.b", '"" ']) + rows[i]
    return "\n".join(rows)


def change_head(rng):
    rows = SAMPLE.split("\n")
    i = rng.choice([k for k, row in enumerate(rows) if row.startswith("[")])
    rows[i] = rng.choice([
        rows[i].replace("[[", "[").replace("]]", "]"), "[" + rows[i] + "]", "[x]",
        rows[i].replace("]", ".y]", 1), rows[i][:-1], "[[person]]", "[device.layer.z]",
    ])
    return "\n".join(rows)


def truncate(rng):
    return SAMPLE[: rng.randrange(len(SAMPLE))]


def random_bytes(rng):
    data = bytearray(SAMPLE.encode())
    for _ in range(rng.randrange(1, 6)):
        data[rng.randrange(len(data))] = rng.randrange(256)
    return bytes(data)


def only_bytes(rng):
    return rng.randbytes(rng.randrange(2000))


def change_digit(rng):
    data = list(SAMPLE)
    for i in rng.sample([k for k, c in enumerate(data) if c.isdigit()], 3):
        data[i] = rng.choice("0123456789.-e")
    return "".join(data)


MUTATIONS = [delete_line, delete_block, duplicate_block, swap_lines, change_value, change_value,
             change_constant, change_key, change_head, truncate, random_bytes, only_bytes,
             change_digit]


@pytest.fixture(scope="module")
def spoilt():
    rng = random.Random(20251125)
    texts = [MUTATIONS[n % len(MUTATIONS)](rng) for n in range(200)]
    return [text if isinstance(text, bytes) else text.encode() for text in texts]


@pytest.fixture
def remembered(monkeypatch):
    """Let the real stability check run once per set of constants."""
    known = {}

    def once(material, *interval):
        key = repr((material.name, material.law.name, material.constants, interval))
        if key not in known:
            known[key] = stability(material, *interval)
        return known[key]

    monkeypatch.setattr("fefoot.case.summary.stability", once)


def test_spoilt_cases_never_trace(spoilt, remembered, tmp_path, capsys):
    codes = []
    for number, data in enumerate(spoilt):
        file = tmp_path / f"case{number}.toml"
        file.write_bytes(data)
        code = main(["check", str(file)])
        out, err = capsys.readouterr()
        assert code in (0, 2), (number, err)
        assert "Traceback" not in out + err and "internal error" not in err, (number, err)
        assert ("\x1b" not in out + err) and len(err) < 4000, number
        assert file.name in (err if code else out), number
        assert bool(err) == bool(code), (number, err)
        file.unlink()
        codes.append(code)
    assert list(tmp_path.iterdir()) == []
    assert codes.count(2) > 120 and codes.count(0) > 10
