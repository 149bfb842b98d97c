"""Text that is not TOML: the line, what seems to be wrong with it, and what to write instead."""

from __future__ import annotations

import re

from ..errors import InputError

LISTS = ("device", "device.layer", "device.feature", "activity.instant", "sweep.vary", "sweep.exclude",
         "certainty.unknown", "search.limit")
"""Tables of a case file that can stand several times, in double brackets."""
LONGEST_LINE, LONGEST_READ = 100, 2000
"""Characters of a line that are shown, and that are looked at."""
UNKNOWN = "look at this line; text stands in quotes, tables in brackets"
_AT = re.compile(r"\s*\(at (?:line (\d+), column (\d+)|end of document)\)")
_CURLY = "\u201c\u201d\u201e\u2018\u2019\u201a\u00ab\u00bb\u2039\u203a`\u00b4"
_NUMBER = r"[+-]?\d[\d_]*(?:\.\d+)?(?:[eE][+-]?\d+)?"
_STRING = re.compile(r""""(?:[^"\\]|\\.)*"|'[^']*'""")


def not_toml(text: str, error: ValueError, file: str) -> InputError:
    """Return the error for a text that the TOML reader refused with ``error``."""
    reason = _AT.sub("", str(error)).strip()
    lines = text.split("\n")
    where = _AT.search(str(error))
    if where is None:
        return InputError(f"this is not TOML: {reason}", file=file, hint="check the numbers")
    number = int(where[1]) if where[1] else _open_line(lines)
    number = min(max(number, 1), len(lines))
    line = lines[number - 1].rstrip("\r")
    what, do = _guess(line.strip()[:LONGEST_READ], reason)
    return InputError(f"this is not TOML: {shown_line(what)}", file=file, hint=shown_line(do),
                      line=(number, shown_line(line, int(where[2] or 1))))


def shown_line(line: str, column: int = 1) -> str:
    """Return a line as it can be shown: without control signs, cut to what stands about a column."""
    text = "".join(c if c.isprintable() and c != "\ufffd" else " " if c == "\t" else "?" for c in line)
    if len(text) <= LONGEST_LINE:
        return text.strip()
    first = min(max(column - LONGEST_LINE // 2, 0), len(text) - LONGEST_LINE)
    cut = text[first:first + LONGEST_LINE]
    return ("..." if first else "") + cut + ("..." if first + LONGEST_LINE < len(text) else "")


def _open_line(lines: list[str]) -> int:
    """Return the number of the line that seems to leave a quote or bracket open to the end."""
    last = {mark: max((n for n, line in enumerate(lines, 1) if mark in line), default=0)
            for mark in ('"""', "'''", "]")}
    for number, line in enumerate(lines, 1):
        value = line.partition("=")[2].strip()
        if value[:3] in last:
            if line.count(value[:3]) < 2 and last[value[:3]] == number:
                return number
        elif (value[:1] in ('"', "'") and not _STRING.match(value)) or (
                value[:1] == "[" and last["]"] < number):
            return number
    return max((n for n, line in enumerate(lines, 1) if line.strip()), default=1)


def _guess(line: str, reason: str) -> tuple[str, str]:
    """Return what seems to be wrong with a line, and what to do."""
    if any(not c.isprintable() and c != "\t" for c in line):
        return "there is a control sign in this line", "delete it and write the line anew"
    if line.startswith("["):
        return _heading(line, reason)
    if re.match(r"//|;|--|/\*", line):
        return "a remark begins with another sign", "begin it with #"
    key, sign, value = _split(line)
    if "overwrite" in reason.lower():
        return f"{key} stands a second time in its table", (
            "leave one of the two out; a further device or layer begins with its own heading")
    if not sign and "nclosed array" in reason:
        return _brackets("[")[::2]
    if not sign:
        return "this is no key = value, no [heading] and no # remark", "write key = value"
    if not key:
        return "there is no key before the =", "write key = value"
    plain = "".join(c for c in key if c not in _CURLY + "\"'").strip()
    if sign != "=":
        return f"there is a {sign} between key and value", f"write {plain} = {_value(plain, value)[1]}"
    if plain != key or re.search(r"\s", key):
        return "this cannot be a key", (
            f"write {'_'.join(plain.split())} = ..., without quotes or blanks")
    if re.search(r"[^A-Za-z0-9_.-]", key):
        return "this cannot be a key", "write a key with letters a to z, digits and _ only"
    what, written, *do = _value(key, value)
    if what:
        return what, do[0] if do else f"write {key} = {written}"
    return reason[:1].lower() + reason[1:], UNKNOWN


def _heading(line: str, reason: str) -> tuple[str, str]:
    name = line.partition("#")[0].strip().strip("[]").strip()
    if "declare" in reason or "overwrite" in reason.lower():
        if name in LISTS:
            return f"[{name}] stands several times, with single brackets", (
                f"write [[{name}]] in double brackets, each time")
        return f"the table {name} stands a second time", "put its keys together under one heading"
    if re.match(r"\[+[^\]]*\]+\s*[^\s\]#]", line):
        return "something stands after the heading", "begin a new line after the heading"
    if re.search(r"[^\w.\-\"'\s]", name):
        return "this cannot be a heading", "write a name in brackets, such as [person]"
    if re.search(r"\s", name):
        return "there is a blank in the heading", f"write {line.replace(name, '_'.join(name.split()))}"
    marks = 2 if line.startswith("[[") else 1
    return "the heading is not closed", f"write {'[' * marks}{name}{']' * marks}, alone on its line"


def _split(line: str) -> tuple[str, str, str]:
    """Return key, sign between (empty: none) and value."""
    found = re.match(r"([^=:]*?)\s*(:=|=|:)\s*(.*)", line)
    return found.groups() if found else (line, "", "")


def _value(key: str, value: str) -> tuple:
    """Return what is wrong with a value and the value as it should stand.

    What is wrong is empty where nothing is seen. A third entry says what to do where writing the value
    anew is not all.
    """
    bare = value.partition("#")[0].strip()
    if not bare:
        return "there is no value", "...", f"write {key} = and its value, or leave the line out"
    if bare[0] == "=":
        return "there are two signs between key and value", bare.lstrip("= ")
    if bare[:3] in ('"""', "'''"):
        return "the text in three quotes does not end", bare, f"close it with {bare[:3]}"
    if bare[0] in _CURLY or (bare[0] in "\"'" and not _STRING.match(value)):
        return _quotes(bare)
    if bare[0] in "\"'":
        return _after_string(value)
    for problem, pattern, written in _NUMBERS:
        found = re.fullmatch(pattern, bare)
        if found:
            number = written(found)
            if not number:
                return problem, bare, "begin a new line for each key"
            if "unit" in problem:
                named = re.search(r"_(mm|kg|degrees|percent|MPa|kPa)$", key)
                return problem, number, f"write {key} = {number}" + (
                    "; the key's name has the unit" if named else ", without the unit")
            return problem, number
    if bare[0] in "[{(":
        return _brackets(bare)
    if re.match(r"[^\W\d]", bare):
        return "text stands without quotes", _quoted(bare)
    return "", bare


def _quoted(words: str) -> str:
    inner = "".join("'" if c in _CURLY + '"' else c for c in words.strip(" ,;"))
    if inner[:1] == "'":
        inner = inner[1:].removesuffix("'")
    return f'"{inner[:-1] if inner.count(chr(39)) == 1 and inner[-1] == chr(39) else inner}"'


def _quotes(bare: str) -> tuple:
    if any(c in _CURLY for c in (bare[0], bare[-1])):
        inner = bare.strip(_CURLY + "\"' ")
        number = re.fullmatch(_NUMBER, inner)
        return "the quotes are not straight ones", inner if number else _quoted(bare)
    return "the closing quote is missing", _quoted(bare)


def _after_string(value: str) -> tuple:
    string = _STRING.match(value)[0]
    rest = value[len(string):].partition("#")[0].strip()
    if "=" in rest:
        return "two keys stand on one line", string, "begin a new line for each key"
    if rest:
        return "something stands after the closing quote", string, (
            "leave it out, or begin it with # as a remark; quotes inside the text are single ones")
    if "\\" in string:
        return "a backslash in quotes begins a special sign", string, (
            "write / instead of the backslash, or the text in single quotes '...'")
    return "", string


def _brackets(bare: str) -> tuple:
    inner = bare.strip("()[]{} ")
    if bare[0] == "(":
        return "a list stands in square brackets", f"[{inner}]"
    if bare[0] == "{":
        return "what stands in braces is not complete", bare, (
            "write it on one line, as { first = 1, second = 2 }")
    return "the list is not complete", bare, "write it as [first, second], with its commas"


def _without_marks(found: re.Match) -> str:
    digits = found[1].replace(".", "") if "," in found[0] and found[1].count(".") else found[1]
    return f"{digits}.{found[2]}"


_UNIT = r"(?:[^\W\d_][^\s=]*|%|\u00b0|\u00ba)(?:\s[^\s=]+)*"
_NUMBERS = (
    ("there is a comma between the digits", r"([+-]?\d[\d.]*),(\d+)\s*[,;]?", _without_marks),
    ("there is a comma between the digits, and a unit", rf"([+-]?\d[\d.]*),(\d+)\s*{_UNIT}",
     _without_marks),
    ("a unit stands after the number", rf"({_NUMBER})\s*{_UNIT}", lambda m: m[1]),
    ("there is no digit before the point", r"([+-]?)(\.\d+)", lambda m: f"{m[1]}0{m[2]}"),
    ("there is no digit after the point", r"([+-]?\d+)\.", lambda m: m[1]),
    ("the number begins with a zero", r"([+-]?)0+(\d[\d.]*)", lambda m: f"{m[1]}{m[2]}"),
    ("two keys stand on one line", r"[^\[{(].*=.*", lambda m: ""),
    ("two numbers stand here", rf"({_NUMBER})\s+{_NUMBER}", lambda m: m[1]),
    ("the line goes on after the number", rf"({_NUMBER})\s*[,;.]", lambda m: m[1]),
)
"""What is wrong with a number, how it looks, and how it should be written."""
