"""Read and check the tables ``[sweep]``, ``[certainty]`` and ``[search]`` of a case file."""

from __future__ import annotations

from math import prod

from ..errors import InputError, unknown_name
from . import studies as known
from .address import Address, address
from .check import Mistakes, read_keys, read_value, shown, table, tables, unknown_keys
from .studies import Certainty, Limit, Search, Studies, Sweep, Unknown, Vary
from .tissues import TISSUES
from .values import Case

TABLES = ("sweep", "certainty", "search")
_MOST_DESIGNS = 200_000


def read_studies(given: dict, case: Case, materials, mistakes: Mistakes) -> Studies:
    """Return the studies of an otherwise valid case; mistakes are noted."""
    reader = _Reader(case, materials, mistakes)
    parts = {name: getattr(reader, name)(table(given[name], name, mistakes))
             for name in TABLES if name in given}
    if "search" in given and "sweep" not in given:
        mistakes.add("a search needs a design space", "search",
                     hint="add [sweep] with the values that may be varied")
    return Studies(**parts) if not mistakes.found else known.NONE


class _Reader:
    """The case, the names of its materials and the list of mistakes, for every table."""

    def __init__(self, case, materials, mistakes):
        self.case, self.materials, self.mistakes = case, materials, mistakes

    def keys(self, source, keys, path, *others):
        unknown_keys(source, [*(k.name for k in keys), *others], path, self.mistakes)
        return read_keys(source, keys, path, self.materials, self.mistakes)

    def sweep(self, source) -> Sweep | None:
        top = self.keys(source, known.SWEEP, "sweep", "vary", "exclude")
        device = self._device(top["device"])
        rows = tables(source.get("vary", []), "sweep.vary", self.mistakes)
        vary = [self._vary(row, f"sweep.vary[{n}]", device, top["sampling"])
                for n, row in enumerate(rows, 1)]
        if not rows:
            self.mistakes.add("nothing is varied", "sweep.vary",
                              hint="add [[sweep.vary]] with name, of, and among or from and to")
        self._distinct([v.name for v in vary], "sweep.vary")
        if top["sampling"] == "sobol" and not known.is_power_of_two(top["samples"] or 0):
            self.mistakes.add("a Sobol sample is balanced for powers of two only", "sweep.samples",
                              value=top["samples"], allowed="2, 4, 8, 16, 32, 64, 128, ...",
                              hint="take the next power of two")
        exclude = [self._exclude(row, f"sweep.exclude[{n}]", vary) for n, row in enumerate(
            tables(source.get("exclude", []), "sweep.exclude", self.mistakes), 1)]
        if self.mistakes.found:
            return None
        if top["sampling"] == "grid":
            count = prod(entry.count() for entry in vary)
            if count > _MOST_DESIGNS:
                self.mistakes.add("this grid has too many designs", "sweep.vary", value=count,
                                  allowed=f"up to {_MOST_DESIGNS}",
                                  hint="widen the steps, or take sampling = 'sobol'")
        return Sweep(**{**top, "device": device.name if device else ""}, vary=tuple(vary),
                     exclude=tuple(exclude))

    def _device(self, name):
        devices = {device.name: device for device in self.case.devices}
        if name:
            if name not in devices:
                self.mistakes.found.append(unknown_name(
                    "device", name, devices, file=self.mistakes.file, key="sweep.device"))
            return devices.get(name)
        return next(iter(devices.values())) if len(devices) == 1 else None

    def _vary(self, row, path, device, sampling) -> Vary:
        keys = (*known.VARIED, *known.RANGE, known.STEP)
        read = self.keys(row, keys, path, "among")
        at = self._address(read["of"], path, device)
        among = self._among(row, path, at)
        low, high = self._range(row, read, path, at)
        if at is not None and not among and low is None:
            self.mistakes.add("neither a list nor a range is given", path,
                              hint="add among = [...], or from and to")
        if among and (low is not None or read["step"] is not None):
            self.mistakes.add("both a list and a range are given", f"{path}.among",
                              hint="leave one of them out")
        if sampling == "grid" and low is not None and read["step"] is None:
            self.mistakes.add("a grid needs a step", f"{path}.step",
                              hint="add step, or take another sampling")
        return Vary(read["name"], read["of"], among, low, high, read["step"])

    def _address(self, text, path, device) -> Address | None:
        if text is None:
            return None
        try:
            return address(text, self.case, device)
        except InputError as problem:
            self.mistakes.add(problem.problem, f"{path}.of", value=problem.value,
                              allowed=problem.allowed, hint=problem.hint)
            return None

    def _among(self, row, path, at) -> tuple:
        if "among" not in row or at is None:
            return ()
        given = row["among"]
        if not isinstance(given, list) or not given:
            self.mistakes.add("this is a list of values", f"{path}.among", value=given,
                              allowed="[first, second, ...]", hint="write it in brackets")
            return ()
        found = tuple(read_value(item, at.key, f"{path}.among", self.materials, self.mistakes)
                      for item in given)
        if at.parts[0] == "activity" and "all" in found:
            self.mistakes.add("a varied instant is one instant", f"{path}.among", value="all",
                              allowed="'peak' or percents of stance", hint="list them")
        if len(set(found)) < len(found) and None not in found:
            self.mistakes.add("a value stands twice in this list", f"{path}.among", value=given,
                              hint="leave one out")
        return found

    def _range(self, row, read, path, at):
        low, high = read["from"], read["to"]
        if (low is None) != (high is None):
            missing = "from" if low is None else "to"
            self.mistakes.add("half of a range is missing", f"{path}.{missing}",
                              hint=f"add {missing}")
            return None, None
        if low is None or at is None:
            return None, None
        if at.key.kind not in ("number", "integer"):
            self.mistakes.add("this value has no range", f"{path}.from", value=low,
                              allowed=f"a list of: {at.key.allowed}", hint="write among = [...]")
            return None, None
        for name in ("from", "to"):
            read_value(row[name], at.key, f"{path}.{name}", self.materials, self.mistakes)
        if low >= high:
            self.mistakes.add("a range goes upwards", f"{path}.to", value=high,
                              allowed=f"more than {low:g}", hint="exchange them")
            return None, None
        return low, high

    def _exclude(self, row, path, vary) -> dict:
        names = {v.name: v for v in vary}
        rules = {}
        if not row:
            self.mistakes.add("this leaves out every design", path, hint="name a varied value in it")
        for name, rule in row.items():
            place = f"{path}.{shown(name)}"
            if name not in names:
                self.mistakes.found.append(unknown_name(
                    "varied value", name, names, file=self.mistakes.file, key=place))
                continue
            if isinstance(rule, dict):
                limits = (*(known._number(n, "", -1e6, 1e6, None, "") for n in ("below", "above")),)
                read = self.keys(rule, limits, place)
                rules[name] = {n: v for n, v in read.items() if v is not None}
                if isinstance((names[name].among or (0.0,))[0], str) or not rule:
                    self.mistakes.add("limits need numbers", place, value=rule,
                                      hint="write a value or a list of values")
            else:
                rules[name] = tuple(float(r) if isinstance(r, int) else r for r in rule) if isinstance(
                    rule, list) else float(rule) if isinstance(rule, int) else rule
        return rules

    def certainty(self, source) -> Certainty | None:
        top = self.keys(source, known.CERTAINTY, "certainty", "unknown")
        if top["samples"] is not None and not known.is_power_of_two(top["samples"]):
            self.mistakes.add("the samples of the indices are balanced for powers of two only",
                              "certainty.samples", value=top["samples"],
                              allowed="4, 8, 16, 32, 64, ...", hint="take the next power of two")
        rows = tables(source.get("unknown", []), "certainty.unknown", self.mistakes)
        unknowns = [self._unknown(row, f"certainty.unknown[{n}]") for n, row in enumerate(rows, 1)]
        self._distinct([u.name for u in unknowns], "certainty.unknown")
        if len(unknowns) == 1:
            self.mistakes.add("one unknown alone has no index", "certainty.unknown",
                              allowed="two or more, or none for the shipped ones",
                              hint="add another unknown")
        return None if self.mistakes.found else Certainty(**top, unknowns=tuple(unknowns))

    def _unknown(self, row, path) -> Unknown:
        keys = (*known.VARIED, *known.RANGE, *known.SPREAD, known.SOURCE)
        read = self.keys(row, keys, path, "among")
        at = self._address(read["of"], path, None)
        among = self._among(row, path, at)
        low, high = self._range(row, read, path, at)
        ways = [bool(among), low is not None, read["spread"] is not None]
        if at is not None and not self.mistakes.found and sum(ways) != 1:
            self.mistakes.add("an unknown has a list, a range, or a spread", path,
                              allowed="among, or from and to, or spread (with middle)",
                              hint="give one of the three")
        return Unknown(read["name"], read["of"], among, low, high, read["middle"], read["spread"],
                       read["source"])

    def search(self, source) -> Search | None:
        top = self.keys(source, known.SEARCH, "search", "limit")
        if None not in top.values() and top["start"] > top["solves"]:
            self.mistakes.add("the first sample is larger than all solves together", "search.start",
                              value=top["start"], allowed=f"up to {top['solves']}",
                              hint="lower start or raise solves")
        limits = [self._limit(row, f"search.limit[{n}]") for n, row in enumerate(
            tables(source.get("limit", []), "search.limit", self.mistakes), 1)]
        return None if self.mistakes.found else Search(**top, limits=tuple(limits))

    def _limit(self, row, path) -> Limit:
        read = self.keys(row, known.LIMIT, path)
        tissue, quantity = read["tissue"], read["quantity"]
        if tissue is not None and self.case.model not in TISSUES[tissue].models:
            self.mistakes.add(f"the {self.case.model} model does not hold this tissue",
                              f"{path}.tissue", value=tissue, hint="name another tissue")
        elif tissue is not None and quantity is not None and (
                quantity not in TISSUES[tissue].quantities):
            self.mistakes.found.append(unknown_name(
                "quantity of this tissue", quantity, TISSUES[tissue].quantities,
                file=self.mistakes.file, key=f"{path}.quantity"))
        if (read["most"] is None) == (read["rise_percent"] is None):
            self.mistakes.add("a limit is a size or a rise", path, allowed="most, or rise_percent",
                              hint="give one of the two")
        return Limit(**read)

    def _distinct(self, names, path):
        for n, name in enumerate(names, 1):
            if name in known.COLUMNS:
                self.mistakes.add("a column of the tables has this name", f"{path}[{n}].name",
                                  value=name, hint="choose another name")
            if name is not None and name in names[: n - 1]:
                self.mistakes.add("this name is taken", f"{path}[{n}].name", value=name,
                                  hint="give each value its own name")
