"""The outlook: the stages ahead run through draws of the batter. Read it in this order:

``worth`` (what a way is worth, how ruin is judged), ``running`` (each draw is one batter and one
run), ``finishing`` (chances and times of it), ``chart`` (how long each pot can be poured) and
``chartlines`` (that in characters), ``looks`` (what is believed of each pot, when to ask for one).
"""
