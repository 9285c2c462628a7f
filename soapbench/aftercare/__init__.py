"""From the spray to the end of the cure: what rests, what is due, how the cut came out."""
