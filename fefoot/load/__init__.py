"""What loads the foot: activities as tables of instants."""

from .activity import Activity, Instant, activities, activity

__all__ = ["Activity", "Instant", "activities", "activity"]
