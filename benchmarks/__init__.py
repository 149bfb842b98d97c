"""Closed forms, standard problems and speed: what the mechanics kernel is measured against."""
