"""Activities: the ground reaction force on one foot as a table of instants over stance."""

from __future__ import annotations

import functools
import tomllib
from dataclasses import astuple, dataclass
from importlib import resources

from ..errors import InputError, unknown_name


@dataclass(frozen=True)
class Instant:
    """One moment of stance.

    Attributes
    ----------
    stance_percent : float
        0 at first contact, 100 when the foot leaves the ground.
    vertical_bodyweights, fore_aft_bodyweights : float
        Force of the ground on the foot, in body weights; upward and forward positive.
    pressure_centre_percent : float
        Centre of pressure from the heel, percent of foot length.
    shank_angle_degrees : float
        Shank from vertical; leaning forward positive.
    """

    stance_percent: float
    vertical_bodyweights: float
    fore_aft_bodyweights: float
    pressure_centre_percent: float
    shank_angle_degrees: float


@dataclass(frozen=True)
class Activity:
    """A named table of instants, ordered by percent of stance, with its source."""

    name: str
    title: str
    source: str
    flag: str
    instants: tuple[Instant, ...]

    def peak(self) -> Instant:
        """Return the instant of greatest vertical force (the first of equals)."""
        return max(self.instants, key=lambda instant: instant.vertical_bodyweights)

    def at(self, percent: float) -> Instant:
        """Return the instant at a percent of stance, linear between the table's instants.

        Raises
        ------
        InputError
            Outside the table's first and last instant.
        """
        first, last = self.instants[0].stance_percent, self.instants[-1].stance_percent
        if not first <= percent <= last:
            raise InputError(
                f"the activity {self.name!r} has no instant there", key="activity.at",
                value=percent, allowed=f"{first:g} to {last:g} percent of stance, 'peak' or 'all'",
                hint="choose a percent inside the table",
            )
        for before, after in zip(self.instants, self.instants[1:], strict=False):
            if percent <= after.stance_percent:
                share = (percent - before.stance_percent) / (
                    after.stance_percent - before.stance_percent
                )
                pairs = zip(astuple(before), astuple(after), strict=True)
                return Instant(*((1.0 - share) * a + share * b for a, b in pairs))
        return self.instants[0]


@functools.cache
def activities() -> dict[str, Activity]:
    """Return the shipped activities by name."""
    file = resources.files(__package__).joinpath("activities.toml")
    table = tomllib.loads(file.read_text(encoding="utf-8"))
    return {
        name: Activity(
            name, entry["title"], entry["source"], entry["flag"],
            tuple(Instant(*map(float, row)) for row in entry["instants"]),
        )
        for name, entry in table.items()
    }


def activity(name: str, **where) -> Activity:
    """Return a shipped activity; ``where`` (file, key) is quoted in the error for a wrong name."""
    if not isinstance(name, str) or name not in activities():
        raise unknown_name("activity", name, activities(), **where)
    return activities()[name]
