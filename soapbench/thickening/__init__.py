"""How long a pot stays pourable: learned from past batches, updated tap by tap.

A log-normal accelerated failure time model on cumulative exposure. ``fit`` learns from finished
batches, ``live`` follows the batch in hand, ``milestone_times`` turns its draws into clock times.

Read it in this order: ``exposure``, ``priors``, ``draws``, ``in_hand``, ``signs``, ``evidence``,
``likelihood``, ``sightings``, ``equations``, ``solve``, ``importance``, ``fitted``, ``fitting``,
``fragrance``, ``profile``, ``practice``, ``bursts`` and ``normal``.
"""

from soapbench.thickening.draws import Draws, chance_above, milestone_times
from soapbench.thickening.fitted import Fit, as_data, from_data, no_batches
from soapbench.thickening.fitting import fit
from soapbench.thickening.fragrance import Acceleration, acceleration
from soapbench.thickening.in_hand import live
from soapbench.thickening.priors import Priors

__all__ = [
    "Acceleration",
    "Draws",
    "Fit",
    "Priors",
    "acceleration",
    "as_data",
    "chance_above",
    "fit",
    "from_data",
    "live",
    "milestone_times",
    "no_batches",
]
