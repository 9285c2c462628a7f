"""Pages of help, each of which fits 80 by 24, and the words of the trade as makers use them."""

from __future__ import annotations

BENCH_PAGE = """\
YOUR BENCH
  Enter  open: plan sheet, a running pour, aftercare of a batch
  r  practise a plan without soap       n  start a new plan
  e  edit a plan                        c  copy a plan or a past batch
  /  search plans, batches, dates       f  your fragrances, oils, colours
  b  fragrance book                     s  units, keys, colours, sound
A POUR FROM START TO FINISH
  plan sheet   is there time for this swirl? what would help? v the cut
  get ready    Space ticks things off; there is no pause once the lye is in
  pour         Space done, 1 to 5 how thick it is, u undo, ? every key
  aftercare    spray, unmould, cut, weigh, review the bars
EDITING A PLAN
  arrows move, Enter edits, Del removes, u undoes
  =  fill this share up to 100 %        m  another mould
  f  swap the fragrance                 w  weights or shares
  s  save                               p  save and open the plan sheet
SAFETY  Lye burns: goggles, gloves, lye into water, running water close by.
  Usage limits come from each fragrance's certificate. Local rules and
  training come first.
WORDS   g on the bench: what each trace state looks like, and the words.
FILES   Plans, batches and settings are plain text in the bench folder."""

GLOSSARY = """\
HOW THICK IS IT?  In the pot, from thin to stiff
  1 stable emulsion  no oil on top or on the spatula; runs like milk
  2 light trace      a drizzle stays on top a moment, then sinks
  3 medium trace     a drizzle stays as a line; like custard
  4 thick trace      a spoonful holds its shape; like pudding
  5 set up           it will not pour; it is pressed into the mould
WHEN IT GOES WRONG
  ricing             grains or little curds, often from a fragrance
  seizing            stiff within seconds, and it heats itself
  separating         oil or liquid stands apart from the rest
  false trace        thick from cold hard fats, not from turning to soap
WORDS OF THE TRADE
  superfat           oil left over, so that no lye is left in the bar
  lye concentration  lye in the lye water: 33 % is one part lye, two water
  load               fragrance as a share of the oils
  gel                soap that heats through turns translucent and shiny
  soda ash           a white bloom on soap that met air too soon
  cure               weeks of drying, until the bars are hard and mild
OUR OWN WORDS
  time left          how long a pot can still be poured
  to spare           time left, less the time you still need
  backup             a quicker swirl to finish with; switch by: until when
  fragrance book     what your batches taught about each fragrance"""
