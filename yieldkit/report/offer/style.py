"""How the customer's pages look: calm on paper, in grey as well, and narrow on a telephone."""

from __future__ import annotations

SHEET_STYLE = """
.sheet { border: 1px solid var(--line); padding: 1.6em 1.8em; margin: 0 0 1.6em; line-height: 1.4; }
.sheet p { margin: 0.2em 0; }
.sheet h1 { font-size: 1.7em; margin: 0.5em 0 0.5em; }
.sheet h2 { font-size: 1.02em; margin: 0 0 0.5em; border: 0; }
.sheet h3 { font-size: 0.9em; margin: 0 0 0.3em; }
.sheet section { margin: 0 0 1.3em; }
.sheet .small { font-size: 0.86em; color: var(--soft); }
.letterhead { display: flex; justify-content: space-between; gap: 1.5em; align-items: flex-start;
  border-bottom: 1px solid var(--line); padding-bottom: 0.8em; }
.letterhead p { margin: 0; } .letterhead img { max-width: 15em; max-height: 4.6em; }
.letterhead span { display: inline-block; }
.letterhead span:not(:last-child)::after { content: " · "; }
.facts { display: grid; grid-template-columns: 1.4fr 1fr 1fr; gap: 0.5em 1.6em; margin: 0 0 1.4em; }
.facts .long { grid-row: span 2; } .facts dt { font-size: 0.86em; color: var(--soft); }
.facts dd { margin: 0; }
.pair { display: grid; grid-template-columns: 1fr 1fr; gap: 1em; margin-bottom: 0.5em; }
.pair div { border: 1.5px solid var(--ink); padding: 0.6em 1em; }
.pair strong { font-size: 1.9em; line-height: 1.2; white-space: nowrap; margin-right: 0.3em; }
.rests { background: var(--wash); padding: 0.8em 1em; print-color-adjust: exact; }
.rests dl { display: grid; grid-template-columns: max-content 1fr; gap: 0.2em 1.2em; margin: 0; }
.rests dt { color: var(--soft); } .rests dd { margin: 0; }
.sheet table { display: table; width: 100%; margin: 0 0 0.4em; font-size: 0.92em; }
.sheet tr { display: table-row; border: 0; } .sheet thead { display: table-header-group; }
.sheet tbody { display: table-row-group; } .sheet tfoot { display: table-footer-group; }
.sheet th, .sheet td { display: table-cell; width: auto; min-width: 0; padding: 0.14em 0 0.14em 1em;
  vertical-align: baseline; text-align: left; font-weight: 400; }
.sheet th:first-child { padding-left: 0; overflow-wrap: break-word; }
.sheet thead th { vertical-align: bottom; color: var(--soft); }
.sheet thead td { border-bottom: 1.5px solid var(--ink); }
.sheet tfoot th, .sheet tfoot td { font-weight: 700; border-bottom: 0;
  border-top: 1.5px solid var(--ink); }
.sheet td.number, .sheet th.number { text-align: right; white-space: normal;
  overflow-wrap: normal; }
.sheet td.bars { width: 36%; vertical-align: middle; } .sheet .twin td.bars { width: 24%; }
.bar { display: block; width: 100%; height: 0.95em; }
.bar-likely, .bar-share { fill: #c9ccc6; }
.bar-alone { stroke: #4f4f4f; stroke-width: 1; vector-effect: non-scaling-stroke; }
.bar-cautious { stroke: #1b1b1b; stroke-width: 2.5; vector-effect: non-scaling-stroke; }
.twin { display: grid; grid-template-columns: 1fr 1fr; gap: 0 2.4em; }
.sheet ul { margin: 0; padding-left: 1.1em; } .sheet li { margin: 0.15em 0; }
.signatures { display: grid; grid-template-columns: 1fr 1fr 1fr; gap: 2em; padding-top: 3em;
  break-inside: avoid; }
.signatures p { border-top: 1px solid var(--ink); padding-top: 0.2em; font-size: 0.86em; }
@media screen and (max-width: 42em) {
  main { padding: 0.6em 0.6em 3em; } .sheet { padding: 0.9em 0.8em; }
  .letterhead { flex-wrap: wrap; } .facts { grid-template-columns: 1fr 1fr; }
  .pair, .twin { grid-template-columns: 1fr; } .rests dl { grid-template-columns: 1fr; gap: 0; }
  .rests dd { margin-bottom: 0.4em; }
  .sheet td::before { content: none; }
  .sheet td, .sheet th { padding-left: 0.5em; }
  .sheet td.bars { width: 22%; }
  .months table, .months thead, .months tbody, .months tfoot { display: block; }
  .sheet .months tr { display: grid; grid-template-columns: 1fr 7.6em 6em; padding: 0.2em 0;
    border-bottom: 1px solid var(--line); }
  .sheet .months th, .sheet .months td { border: 0; padding: 0; width: auto; }
  .months .bars { order: 1; align-self: center; } .months .alone { order: 2; grid-column: span 2; }
  .sheet .months tfoot .bars, .sheet .months tfoot .alone { display: none; }
  .signatures { grid-template-columns: 1fr; gap: 3em; }
}
@media print {
  @page { size: A4; margin: 9.5mm 15mm 14mm;
    @bottom-right { content: counter(page) " / " counter(pages); font: 8pt sans-serif; } }
  .sheet { border: 0; padding: 1.2mm 0.3mm 0; margin: 0; break-after: page; font-size: 8.5pt;
    line-height: 1.26; }
  .sheet h1 { font-size: 16pt; margin: 2.5mm 0 2mm; }
  .sheet h2 { font-size: 10pt; margin-bottom: 1mm; break-after: avoid; }
  .sheet h3 { font-size: 8.5pt; }
  .sheet section { margin-bottom: 2.8mm; break-inside: avoid; }
  .sheet .small, .facts dt, .rests dl, .signatures p, .sheet table { font-size: 8pt; }
  .letterhead { padding-bottom: 2mm; } .letterhead img { max-width: 50mm; max-height: 14mm; }
  .facts { margin-bottom: 2.6mm; gap: 1.2mm 7mm; }
  .pair { gap: 4mm; margin-bottom: 1mm; } .pair div { padding: 1.4mm 3.5mm; }
  .pair strong { font-size: 16pt; } .rests { padding: 1.6mm 3.5mm; }
  .rests dl { gap: 0.3mm 4mm; }
  .sheet th, .sheet td { padding-top: 0.1mm; padding-bottom: 0.1mm; }
  .signatures { padding-top: 8.5mm; gap: 8mm; break-inside: avoid; }
  .annex h2 { font-size: 14pt; margin-top: 0; }
  .scroll:not(:has(td.long)) { break-inside: avoid; }
}
"""
