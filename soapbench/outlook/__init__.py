"""The outlook: the stages ahead run through draws of the batter. Read it in this order:

``batters`` (how each draw's pots thicken), ``hands`` (how long handwork takes in it), ``running``
(the stages run through both), ``worth`` (how ruin is judged), ``finishing`` (chances and times),
``chart`` (how long each pot can be poured) and ``chartlines`` (that in characters), ``looks`` (what
is believed of each pot, and when to ask for a look).
"""
