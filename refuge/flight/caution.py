"""The caution that every answer carries."""

CAUTION = (
    "Planning aid. Not certified for navigation; weather, data and durations may be wrong or late. "
    "The flight manual, current regulations, and the judgement of the pilot in command and a qualified "
    "instructor come first."
)
