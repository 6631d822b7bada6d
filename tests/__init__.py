"""What inlayfit promises, one sentence a test."""
