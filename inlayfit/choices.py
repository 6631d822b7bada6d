"""What a maker chooses among, by name; apart from all else so that help texts need nothing heavy."""

GAP_FROM = ("piece", "pocket", "shared")
"""Which half gives way for the gap: the piece shrinks, the pocket grows, or each by half."""

CORNERS = ("match", "sharp")
"""`match`: both halves are rounded alike; `sharp`: the piece keeps its corners, the pocket's are squared by hand."""
