"""The few rules of looks that Streamlit's theme has no option for."""

from typing import Final

SHEET: Final = """
/* Five columns of figures must fit a phone: the cells' own padding takes a third of it. */
[data-testid="stTable"] :is(th, td) { padding: 4px !important; }
/* A card has room above its heading already. */
[data-testid="stMain"] h1 { padding: 0.25rem 0 0.5rem; }
[data-testid="stMain"] h2 { padding: 0.125rem 0 0.5rem; }
/* On a phone a hand aims at whole lines: nothing stands beside a field there. */
@media (max-width: 480px) {
  [class*="st-key-fields"] [data-testid="stElementContainer"],
  [class*="st-key-fields"] :is([data-testid="stSelectbox"], [data-testid="stTextInput"]) {
    flex: 1 1 100% !important; width: 100% !important;
  }
}
/* The head looks again every few seconds: it would pale each time on a busy machine. */
.st-key-standing [data-stale="true"] { opacity: 1 !important; transition: none !important; }
"""
