"""How each kind of test is wired, as data: one module per kind, gathered here in the order of the page.

To extend a kind, edit its module; a drawing is a file name under static/drawings (none yet).
"""

from measurements.pages.guide import balance, common_mode, in_situ, insertion_loss, load_match
from measurements.pages.guide.entry import Entry

ENTRIES: tuple[Entry, ...] = (
    common_mode.ENTRY,
    load_match.ENTRY,
    insertion_loss.ENTRY,
    balance.ENTRY,
    in_situ.ENTRY,
)
