"""What a check and a fit say: as JSON and on the screen."""
