"""cel-check: checks painted animation cels before they go to camera."""
