"""The pour plan: what a maker means to pour, as frozen values.

Field names are the keys of the plan file; every quantity is in the unit of its
``reading.units.Measure`` (g, mL, cm, degC, s, fractions). ``Plan.as_written`` gives the same
tables back as text with units, so a resolved plan can be read again by the same reader.

Read it in this order: ``moulds``, ``tables``, ``values``, ``fields``, ``pourplan`` and ``reader``.
"""

from soapbench.plan.pourplan import Plan, scented_pots
from soapbench.plan.tables import Colourant, Embed, Fragrance, Oil, Pot

__all__ = ["Colourant", "Embed", "Fragrance", "Oil", "Plan", "Pot", "scented_pots"]
