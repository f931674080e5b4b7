"""The report's style sheet: calm, readable in black and white and on paper, light and dark."""

STYLE = """
:root { color-scheme: light dark; --ink: #1f2a2e; --paper: #fbfaf6; --line: #b9b4a6; --soft: #efece2; --warn: #7a3b12; }
@media (prefers-color-scheme: dark) {
  :root { --ink: #e6e3da; --paper: #1c2224; --line: #59605e; --soft: #262e30; --warn: #f0b48a; }
}
body { margin: 0; background: var(--paper); color: var(--ink); font: 1rem/1.5 Georgia, "Times New Roman", serif; }
main { max-width: 62rem; margin: 0 auto; padding: 1.5rem; }
h1, h2, h3 { font-family: "Helvetica Neue", Arial, sans-serif; line-height: 1.2; }
h2 { border-bottom: 2px solid var(--line); padding-bottom: .2rem; margin-top: 2.5rem; }
.lead { font-size: 1.1rem; }
.cautions { border: 2px solid var(--warn); padding: 0 1rem .5rem; }
.cautions h2 { border: 0; color: var(--warn); margin-top: .8rem; }
figure { margin: 1rem 0; }
img { background: #fff; max-width: 100%; height: auto; }
img.wide { width: 100%; border: 1px solid var(--line); }
.icon img { width: 9rem; }
.cards { display: grid; grid-template-columns: repeat(auto-fill, minmax(24rem, 1fr)); gap: 1rem; }
.card { display: flex; gap: .8rem; break-inside: avoid; font: .9rem/1.35 "Helvetica Neue", Arial, sans-serif; }
.card .plan { flex: 0 0 9rem; } .card img { width: 9rem; } .card ol { margin: .3rem 0; padding-left: 1.4rem; }
table { border-collapse: collapse; width: 100%; font-family: "Helvetica Neue", Arial, sans-serif; font-size: .92rem; }
th, td { text-align: left; padding: .4rem .6rem; border-bottom: 1px solid var(--line); vertical-align: middle; }
thead th { background: var(--soft); }
code { font-size: .95em; }
footer { margin-top: 3rem; font-size: .85rem; }
@media print { body { background: #fff; color: #000; } tr, figure { break-inside: avoid; } }
@media (max-width: 40rem) { td, th { padding: .3rem; font-size: .8rem; } }
"""
