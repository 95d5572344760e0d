"""How blanks, boxes to tick and cards of strings look, on a small screen and on paper."""

from __future__ import annotations

BLANKS_STYLE = """
.card { border: 1.5px solid var(--ink); padding: 0.5em 0.9em 0.7em; margin: 0.9em 0;
  display: grid; grid-template-columns: 1.15fr 1fr; gap: 0 1.6em; break-inside: avoid; }
.card h3 { grid-column: 1 / -1; margin: 0 0 0.4em; font-size: 1.05em; }
.card dl { margin: 0 0 0.5em; display: grid; grid-template-columns: max-content 1fr;
  gap: 0.05em 0.9em; font-size: 0.86em; }
.card dt { color: var(--soft); } .card dd { margin: 0; }
.blanks { margin: 0; padding: 0; list-style: none; font-size: 0.9em; }
.blanks li { display: flex; align-items: flex-end; gap: 0.5em; min-height: 1.85em;
  break-inside: avoid; }
.blanks .what { flex: 0 0 auto; max-width: 62%; } .blanks .unit { flex: 0 0 3em; }
.blanks .line { flex: 1 1 3em; border-bottom: 1.2px solid var(--ink); min-width: 3em;
  height: 1.3em; }
.tick { display: inline-block; flex: 0 0 auto; width: 0.95em; height: 0.95em;
  border: 1.5px solid var(--ink); margin: 0 0.35em 0 0; vertical-align: -0.1em; }
.ticks { margin: 0.3em 0 0.8em; padding: 0; list-style: none; }
.ticks li { display: flex; gap: 0.3em; margin: 0.3em 0; break-inside: avoid; }
.ticks .tick { margin-top: 0.25em; }
.ticks .number { flex: 0 0 1.5em; text-align: right; font-weight: 700; }
.warn { font-weight: 700; }
.pair { display: grid; grid-template-columns: 1fr 1fr; gap: 0 1.6em; }
.pair > div { break-inside: avoid; }
.whole figure img { width: auto; max-width: 100%; }
table.grid { margin: 0.2em 0 0.3em; font-size: 0.8em; width: 100%; }
table.grid th, table.grid td { text-align: right; padding: 0.1em 0.35em 0.1em 0; min-width: 0;
  white-space: nowrap; font-variant-numeric: tabular-nums; }
table.grid caption { padding: 0; }
@media (max-width: 42em) { .card, .pair { grid-template-columns: 1fr; } }
@media screen and (max-width: 42em) {
  .card { padding: 0.4em 0.7em 0.6em; margin: 0.7em 0; } .card dl { font-size: 0.84em; }
  table.grid { display: table; font-size: 0.74em; }
  table.grid thead { display: table-header-group; }
  table.grid tbody { display: table-row-group; }
  table.grid caption { display: table-caption; }
  table.grid tr { display: table-row; border: 0; padding: 0; }
  table.grid tbody th, table.grid tbody td { display: table-cell; width: auto; text-align: right;
    padding: 0.1em 0.3em 0.1em 0; }
  table.grid tbody td::before { content: none; }
  .blanks li { min-height: 1.9em; }
  .whole figure img { min-width: 32em; max-width: none; }
}
@media print {
  .card { grid-template-columns: 1.15fr 1fr; font-size: 9pt; margin: 7pt 0; }
  .pair { grid-template-columns: 1fr 1fr; } table.grid { font-size: 7.2pt; }
  .whole figure img { max-height: 105mm; }
  .tick { print-color-adjust: exact; }
}
"""
"""Added to the style of every page; classes are used by the handover sheet."""
