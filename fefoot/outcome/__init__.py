"""What a solve says: measures per tissue, checks of the solve itself, comparisons."""
