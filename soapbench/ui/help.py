"""Help that fits one page of 80 by 24, and what the maker's own files look like."""

from __future__ import annotations

from rich.style import Style
from rich.text import Text
from textual import events
from textual.app import ComposeResult
from textual.containers import VerticalScroll
from textual.widgets import Static

from soapbench.ui.basescreen import Dialog

BENCH_PAGE = """\
THE BENCH
  Enter   open: plan sheet, carry on a pour, aftercare of a batch
  r  rehearse a plan without soap       n  make a new plan in the workshop
  e  change a plan in the workshop      c  copy a plan or a past batch
  /  find plans, batches, days          f  your fragrances, limits and lots
  b  the scent book                     s  units, keys, colours, bell
THE EVENING
  plan sheet   can this swirl be finished? what would change it? v its face
  set-out      Space ticks; nothing can be paused once lye meets oils
  pour         Space done, 1 to 5 trace state seen, u undo, ? every key
  aftercare    spray, unmould, cut, weighings, and how the bars looked
IN THE WORKSHOP
  arrows move, Enter changes a value, Del takes one out, u undoes
  =  this share makes 100 %             m  the same plan for another mould
  f  swap the fragrance                 s  save   p  save, open the sheet
SAFETY  Lye burns: goggles, gloves, lye into water, a tap near. Limits come
  from the fragrance's own certificate. Local rules and training go first.
FILES  plans, batches, tables, settings.toml in the bench folder: TOML"""

TABLES_PAGE = """\
YOUR OWN TABLES, in the bench's tables/; they go before ours of that name
oils.toml       ["tiger nut"]
                saponification.mg_koh_g = [190, 200]   # or one number
                density = { g_ml = 0.91, at_c = 20 }
                saturated.share = 0.19
                lot = "A17"
colourants.toml ["harbour blue"]
                bulk_g_ml = 0.45       # a level spoon; solid_g_ml = 2.8
                disperse_in = "oil"    # oil, water, none
                look = "#274b6d"
                lot = "B2"             # also aliases, note
fragrances.toml ["Kelp & Fig"]
                limit_percent = 9.5    # from its certificate
                reputation = "well behaved"
                density_g_ml = 0.97    # also lot, note
swirls.toml     [swirl."spoon spiral"]
                role = "tool"          # pour, tool, top
                moves = [{ do = "spoon", pots = "mould", median_s = 40 }]
Each may have source = "…" and verified = "…", else it is your own word.
The bench names the first fault in these files, with its line."""


class Page(Dialog[None]):
    """One page of help; any key but the arrows goes back."""

    AUTO_FOCUS = "#page"

    def __init__(self, page: str) -> None:
        super().__init__()
        self._text = page

    def compose(self) -> ComposeResult:
        text = Text()
        for line in self._text.splitlines():
            heading = line[:1].isupper() and line.split("  ")[0].split(",")[0].isupper()
            text.append(line + "\n", Style(bold=heading))
        text.append("any key goes back", Style(italic=True))
        with VerticalScroll(id="page"):
            yield Static(text)

    def on_key(self, event: events.Key) -> None:
        if event.key not in ("up", "down", "pageup", "pagedown"):
            event.stop()
            event.prevent_default()
            self.dismiss(None)
