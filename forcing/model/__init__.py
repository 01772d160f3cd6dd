"""The nouns. What a grower states (Season and its rows), what the trade knows (Recipe), and what the
engine answers (Plan and its parts). Frozen records; every temperature is °C, every span half-open.

A field that may be unknown is None and its comment says what None means; nothing is ever 0 for unknown.
"""

from forcing.model.plan import LotPlan, Occupancy, PlaceLoad, Plan, RoomSetting, Step, Task, Unplanned
from forcing.model.recipe import PARAMETERS, Figure, Recipe
from forcing.model.stated import (
    Companion,
    Display,
    Job,
    LogEntry,
    Lot,
    Minimum,
    Minutes,
    Normal,
    Override,
    Place,
    Planting,
    Reading,
    Season,
    Setpoint,
    Supply,
)
from forcing.model.words import (
    CLASSES,
    STEPS,
    Basis,
    BloomClass,
    Event,
    Paper,
    PlaceKind,
    Shape,
    StepName,
    TaskState,
)

__all__ = [
    "CLASSES",
    "PARAMETERS",
    "STEPS",
    "Basis",
    "BloomClass",
    "Companion",
    "Display",
    "Event",
    "Figure",
    "Job",
    "LogEntry",
    "Lot",
    "LotPlan",
    "Minimum",
    "Minutes",
    "Normal",
    "Occupancy",
    "Override",
    "Paper",
    "Place",
    "PlaceKind",
    "PlaceLoad",
    "Plan",
    "Planting",
    "Reading",
    "Recipe",
    "RoomSetting",
    "Season",
    "Setpoint",
    "Shape",
    "Step",
    "StepName",
    "Supply",
    "Task",
    "TaskState",
    "Unplanned",
]
