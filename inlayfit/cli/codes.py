"""What a command returns to the shell."""

GOOD = 0
FINDINGS = 1
"""Detail is lost, or a piece does not drop in."""
UNUSABLE = 2
"""The input or the call cannot be used."""
FAULT = 70
"""A fault of ours: EX_SOFTWARE of sysexits.h."""
INTERRUPTED = 130
"""128 + SIGINT, as shells say it."""
