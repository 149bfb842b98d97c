"""Files that are not TOML: one message with the line, the likely mistake, and what to write."""

import pytest

from fefoot.case import read_case
from fefoot.case.schema import SECTIONS
from fefoot.case.studies import TABLES
from fefoot.case.toml_mistakes import LISTS
from fefoot.cli import main
from fefoot.errors import InputError

HEAD = 'model = "sagittal"\ntarget = "plantar_fascia"\n[person]\n'
"""Three lines before the one with the mistake."""


def message(tmp_path, text):
    file = tmp_path / "case.toml"
    file.write_bytes(text if isinstance(text, bytes) else text.encode())
    with pytest.raises(InputError) as caught:
        read_case(file)
    words = str(caught.value)
    assert words.startswith(f"{file}: ") and "Traceback" not in words and len(words) < 1000
    return words


@pytest.mark.parametrize(("line", "what", "do"), [
    ("length_mm = 243,5", "comma between the digits", "write length_mm = 243.5"),
    ("length_mm = 1.243,5", "comma between the digits", "write length_mm = 1243.5"),
    ("length_mm = 24,5 cm", "comma between the digits, and a unit", "write length_mm = 24.5;"),
    ("length_mm = 243 mm", "a unit stands after", "write length_mm = 243; the key's name has the unit"),
    ("body_mass_kg = 72kg # as weighed", "a unit stands after", "write body_mass_kg = 72; the key's"),
    ("at = 62 %", "a unit stands after", "write at = 62, without the unit"),
    ("at = 62 percent of stance", "a unit stands after", "write at = 62, without the unit"),
    ("side = left", "text stands without quotes", 'write side = "left"'),
    ('title = Heel "pain"', "text stands without quotes", "write title = \"Heel 'pain'\""),
    ("side = \u201cleft\u201d", "not straight ones", 'write side = "left"'),
    ("side = \u2018left\u2019", "not straight ones", 'write side = "left"'),
    ("side = \u201eleft\u201c", "not straight ones", 'write side = "left"'),
    ("side = \u00ableft\u00bb", "not straight ones", 'write side = "left"'),
    ('side = "left\u201d', "not straight ones", 'write side = "left"'),
    ("length_mm = \u201c243\u201d", "not straight ones", "write length_mm = 243"),
    ("body_mass_kg: 72", "a : between key and value", "write body_mass_kg = 72"),
    ("side : left", "a : between key and value", 'write side = "left"'),
    ("body_mass_kg := 72", "a := between key and value", "write body_mass_kg = 72"),
    ("body_mass_kg == 72", "two signs", "write body_mass_kg = 72"),
    ('side = "left', "closing quote is missing", 'write side = "left"'),
    ("side = 'left", "closing quote is missing", 'write side = "left"'),
    ('side = "left" foot', "something stands after the closing quote", "begin it with #"),
    ('title = "C:\\users"', "backslash", "write / instead"),
    ("body mass = 72", "cannot be a key", "write body_mass = ..."),
    ("l\u00e4nge_mm = 250", "cannot be a key", "letters a to z"),
    ("body_mass_kg", "no key = value", "write key = value"),
    ("body_mass_kg =", "there is no value", "and its value"),
    ("= 72", "no key before the =", "write key = value"),
    ("heel_pad_mm = .5", "no digit before the point", "write heel_pad_mm = 0.5"),
    ("heel_pad_mm = 17.", "no digit after the point", "write heel_pad_mm = 17"),
    ("length_mm = 0255", "begins with a zero", "write length_mm = 255"),
    ("length_mm = 255 98", "two numbers", "write length_mm = 255"),
    ("length_mm = 255 side = 3", "two keys stand on one line", "a new line for each key"),
    ('side = "left" length_mm = 3', "two keys stand on one line", "a new line for each key"),
    ("length_mm = 255;", "goes on after the number", "write length_mm = 255"),
    ("heel = (1, 2, 3)", "square brackets", "write heel = [1, 2, 3]"),
    ("heel = [1; 2]", "the list is not complete", "[first, second]"),
    ("constants = { a = 1,", "braces", "on one line"),
    ("// the left foot", "a remark begins with another sign", "begin it with #"),
    ("[activity", "heading is not closed", "write [activity]"),
    ("[[device]", "heading is not closed", "write [[device]]"),
    ("[material.my foam]", "a blank in the heading", "write [material.my_foam]"),
    ("[activity] at = 62", "after the heading", "a new line after"),
    ("[person]", "the table person stands a second time", "under one heading"),
    ("side = \x07 1", "control sign", "delete it"),
])
def test_a_mistake_is_shown_and_guessed(tmp_path, line, what, do):
    words = message(tmp_path, HEAD + line + '\nheel_width_mm = 65\n')
    shown = line.replace("\x07", "?")
    first, second, last = words.split("\n")
    assert "this is not TOML: " in first and what in first, words
    assert second == f"  line 4: {shown}" and last.startswith("  do:      ") and do in last, words


@pytest.mark.parametrize("name", LISTS)
@pytest.mark.parametrize("heads", [("[{}]", "[{}]"), ("[{}]", "[[{}]]"), ("[[{}]]", "[{}]")])
def test_a_list_in_single_brackets(tmp_path, name, heads):
    first, second = (head.format(name) for head in heads)
    words = message(tmp_path, f'{first}\nname = "a"\n{second}\nname = "b"\n')
    assert f"[{name}] stands several times, with single brackets" in words
    assert f"\n  line 3: {second}\n" in words and f"write [[{name}]] in double brackets" in words


def test_the_lists_are_those_of_the_schema():
    assert {n for n in LISTS if n.split(".")[0] in ("sweep", "certainty", "search")} == {
        n for n in TABLES if "." in n} | {"sweep.exclude"}
    assert {"device", "device.layer", "activity.instant"} <= set(SECTIONS) & set(LISTS)


def test_one_device_in_single_brackets(tmp_path):
    words = message(tmp_path, HEAD + 'body_mass_kg = 70\n[device]\nname = "a"\n[[device.layer]]\n'
                    'material = "eva_soft"\nthickness_mm = 3\n')
    assert "device: [device] is one table where a list of tables is wanted" in words
    assert "[[device]]" in words and "more:" not in words and "found" not in words


def test_a_key_that_stands_twice(tmp_path):
    words = message(tmp_path, HEAD + "body_mass_kg = 70\nbody_mass_kg = 71\n")
    assert "body_mass_kg stands a second time" in words and "line 5: body_mass_kg = 71" in words


@pytest.mark.parametrize(("text", "number"), [
    (HEAD + 'title = "to the end', 4), (HEAD + "side = 'left\nlength_mm = 250\n", 4),
    (HEAD + 'title = """several\nlines\n', 4), (HEAD + "heel = [1,\n2\nside = 3\n", 6)])
def test_what_stays_open_to_the_end(tmp_path, text, number):
    assert f"\n  line {number}: " in message(tmp_path, text)


def test_a_long_line_is_cut_about_the_mistake(tmp_path):
    line = 'title = "' + "x" * 300 + '" ' + "y" * 300
    words = message(tmp_path, HEAD + line)
    shown = words.split("line 4: ")[1].split("\n")[0]
    assert len(shown) <= 106 and "x" * 20 + '" ' + "y" * 20 in shown


def test_windows_line_ends_do_not_show(tmp_path):
    words = message(tmp_path, (HEAD + "side = left\n").replace("\n", "\r\n"))
    assert 'line 4: side = left\n  do:      write side = "left"' in words


@pytest.mark.parametrize("data", [
    HEAD.encode() + b'title = "caf\xe9"\n', ("\ufeff" + HEAD).encode("utf-16"), b"\x00\x01\x02",
    HEAD.encode() + b"side = \x1b[31mleft\n", b"\xff" * 3000,
    b"x = " + b"0" * 900_000 + b"x", b"a" + b" " * 900_000 + b"b",
    b'x = """]\n' * 90_000, "a\u2028= \u200b".encode()])
def test_odd_bytes_give_one_plain_message(tmp_path, capsys, data):
    file = tmp_path / "case.toml"
    file.write_bytes(data)
    assert main(["check", str(file)]) == 2
    out, err = capsys.readouterr()
    assert out == "" and len(err) < 600
    assert all(c.isprintable() or c == "\n" for c in err) and "do:" in err


def test_a_line_in_another_encoding_is_shown(tmp_path):
    words = message(tmp_path, HEAD.encode() + b'title = "caf\xe9"\n')
    assert "line 4 is not UTF-8 text" in words and '\n  line 4: title = "caf?"' in words
