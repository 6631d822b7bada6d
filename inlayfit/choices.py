"""What a maker chooses among, and how far; apart from all else so that help texts need nothing heavy."""

GAP_FROM = ("piece", "pocket", "shared")
"""Which half gives way for the gap: the piece shrinks, the pocket grows, or each by half."""

CORNERS = ("match", "sharp")
"""`match`: both halves are rounded alike; `sharp`: the piece keeps its corners, the pocket's are squared by hand."""

LARGEST_GAP = 5.0
"""A clearance per side over this many mm is a slip of the unit: a fit is sought, and 5 mm is a hole."""

LARGEST_TOLERANCE = 1.0
"""A tolerance over this many mm would call anything as drawn."""
