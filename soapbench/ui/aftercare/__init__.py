"""After the pour on screen: aftercare of a resting batch, and the cut review."""
