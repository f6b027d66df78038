package html

// style is the whole style of the page but for the dark colours of its
// figures: nothing is fetched. Colours are those of the printed report; a dark
// variant follows the reader's setting.
const style = `
:root{color-scheme:light dark;--ink:#1f2428;--grey:#555d64;--line:#8d979e;--hair:#d3d9dd;--panel:#f3f5f6;--ground:#fff;--accent:#125060;--focus:#0b6e8a}
@media (prefers-color-scheme:dark){:root{--ink:#e4e8ea;--grey:#a9b3b9;--line:#7c878e;--hair:#3a4349;--panel:#1f262a;--ground:#14191c;--accent:#8cc7d6;--focus:#8cc7d6}}
*{box-sizing:border-box}
html{-webkit-text-size-adjust:100%;scroll-padding-top:1rem}
body{margin:0;background:var(--ground);color:var(--ink);font:1rem/1.55 "Liberation Sans",Arial,Helvetica,sans-serif}
.page{max-width:60rem;margin:0 auto;padding:2.5rem 1.5rem 4rem}
.skip{position:absolute;left:-999rem;top:0;background:var(--accent);color:var(--ground);padding:.6rem 1rem;z-index:2}
.skip:focus{left:0}
a{color:var(--accent);text-decoration-thickness:1px;text-underline-offset:.18em}
a:hover{text-decoration-thickness:2px}
:focus-visible{outline:3px solid var(--focus);outline-offset:2px}
header.cover{border-top:5px solid var(--accent);padding-top:1.4rem;margin-bottom:2rem}
.mark{display:inline-block;border:1px solid var(--ink);padding:.15rem .6rem;font-weight:bold;font-size:.85rem;margin:0 0 1rem}
h1{color:var(--accent);font-size:2.1rem;line-height:1.2;margin:0 0 .3rem}
.subtitle{color:var(--grey);font-size:1.2rem;margin:0 0 .4rem}
.author{margin:0}
dl.facts{margin:1.4rem 0 0;display:grid;grid-template-columns:minmax(8rem,max-content) 1fr;font-size:.93rem;border-bottom:1px solid var(--hair)}
dl.facts dt,dl.facts dd{margin:0;padding:.35rem 0;border-top:1px solid var(--hair)}
dl.facts dt{color:var(--grey);padding-right:1.5rem}
nav h2{border:0;color:var(--ink);font-size:1.1rem;margin:0 0 .5rem;padding:0}
nav ol{list-style:none;margin:0;padding:0}
nav ol ol{padding-left:1.9rem;font-weight:normal}
nav>ol>li{font-weight:bold;margin:.35rem 0}
nav a{text-decoration:none;display:flex;padding:.12rem 0}
nav a:hover{text-decoration:underline}
.n{display:inline-block;min-width:1.9rem;color:var(--accent);font-variant-numeric:tabular-nums}
nav .n{flex:none}
nav ol ol .n{min-width:2.4rem}
nav ol ol ol{padding-left:2.4rem}
nav ol ol ol .n{min-width:3rem}
h2,h3,h4{line-height:1.25;scroll-margin-top:1rem}
h2{color:var(--accent);font-size:1.5rem;border-top:1px solid var(--accent);padding-top:.7rem;margin:3rem 0 .6rem}
h3{font-size:1.15rem;margin:2.2rem 0 .5rem}
h4{color:var(--grey);font-size:1rem;margin:1.6rem 0 .4rem}
h2,h3,h4{display:flex}
h2 .n,h3 .n,h4 .n{min-width:2.2rem;flex:none;padding-right:.5rem}
h4{color:var(--ink)}
p,ul,ol,.note{max-width:44rem}
p{orphans:3;widows:3;margin:.65rem 0;overflow-wrap:break-word}
p.lead{font-size:1.15rem;line-height:1.5}
p.small,.notes p{color:var(--grey);font-size:.86rem;line-height:1.45}
p.quiet{color:var(--grey);font-size:.95rem}
main ul,main ol{padding-left:1.5rem;margin:.65rem 0}
main li{margin:.25rem 0;overflow-wrap:break-word}
code,pre{font-family:"Liberation Mono","Courier New",monospace;font-size:.9em}
.to{font-size:.86rem;color:var(--grey);margin:.35rem 0 0}
.numbers .table{margin:.6rem 0 1rem}
.numbers .scroll{max-height:24rem;overflow:auto}
.stepper{display:flex;gap:.8rem;align-items:center;font-size:.86rem;color:var(--grey);margin-top:.3rem;max-width:44rem}
.stepper input{flex:1;accent-color:var(--accent)}
figure{position:relative}
.tip{position:absolute;z-index:1;pointer-events:none;background:var(--ink);color:var(--ground);font-size:.82rem;line-height:1.3;padding:.25rem .55rem;border-radius:3px;max-width:22rem;width:max-content}
.ring{fill:none;stroke:var(--ink);stroke-width:1.4;pointer-events:none}
pre{background:var(--panel);padding:.8rem 1rem;overflow-x:auto;white-space:pre-wrap;overflow-wrap:anywhere;line-height:1.4}
figure{margin:1.6rem 0;max-width:50rem}
.paper{background:#fff;overflow-x:auto;forced-color-adjust:none}
.paper svg{display:block;width:100%;height:auto;min-width:36rem}
.half .paper svg{min-width:18rem}
figure.half{max-width:24rem;display:inline-block;vertical-align:top;width:100%;margin-right:1.5rem}
figcaption,caption{font-size:.92rem;line-height:1.4;text-align:left}
figcaption{margin-top:.5rem;max-width:44rem}
details{font-size:.92rem;margin-top:.4rem;max-width:44rem}
summary{cursor:pointer;color:var(--accent);padding:.15rem 0}
.table{margin:1.6rem 0}
.scroll{overflow-x:auto}
table{border-collapse:collapse;font-size:.9rem;line-height:1.35;font-variant-numeric:tabular-nums}
caption{padding-bottom:.4rem}
th,td{padding:.32rem 1.1rem .32rem 0;text-align:left;vertical-align:top;font-weight:normal}
th:last-child,td:last-child{padding-right:0}
thead>tr>*{vertical-align:bottom;border-top:1px solid var(--accent);border-bottom:1px solid var(--line)}
thead th{font-weight:bold;color:var(--accent)}
th button{all:unset;cursor:pointer;display:inline-block;padding-right:.95em;position:relative}
th button::after{content:"\2195\FE0E";position:absolute;right:0;bottom:0;opacity:.55;font-weight:normal}
[aria-sort=ascending] button::after{content:"\2191\FE0E";opacity:1}
[aria-sort=descending] button::after{content:"\2193\FE0E";opacity:1}
th button:hover{text-decoration:underline}
th button:focus-visible{outline:3px solid var(--focus);outline-offset:2px}
th.r:has(button){padding-right:.15em}
.tools{margin:.4rem 0 0}
button.tool{font:inherit;font-size:.8rem;color:var(--accent);background:none;border:1px solid var(--line);border-radius:3px;padding:.15rem .6rem;cursor:pointer}
button.tool:hover{border-color:var(--accent);text-decoration:underline}
tbody tr+tr>*{border-top:1px solid var(--hair)}
tbody tr:last-child>*{border-bottom:1px solid var(--line)}
tr.strong>*{font-weight:bold}
tbody tr+tr.strong>*{border-top-color:var(--line)}
.r{text-align:right}.c{text-align:center}.w{min-width:14rem}
td.r{white-space:nowrap}
.note{background:var(--panel);padding:.7rem 1rem .7rem 1.4rem;margin:1.1rem 0;position:relative;overflow-wrap:break-word}
.note>p{margin:.3rem 0}
.note>p:first-child{font-weight:bold}
.note.caution{font-size:.92rem;line-height:1.4;padding-top:.5rem;padding-bottom:.5rem}
.note.caution ul{margin:.2rem 0;padding-left:1.1rem}
.note.caution li{margin:.15rem 0}
th.in{padding-left:1rem}
.note::before{content:"";position:absolute;left:0;top:0;bottom:0;width:7px;background:var(--line)}
.note.info::before{width:2px}
.note.decision::before{background:var(--accent)}
.note.caution::before{background:repeating-linear-gradient(var(--ink) 0 3px,transparent 3px 6px)}
.note.error::before{background:linear-gradient(90deg,var(--ink) 0 2px,transparent 2px 5px,var(--ink) 5px)}
.note.safety::before{background:linear-gradient(90deg,var(--ink) 0 2px,transparent 2px),repeating-linear-gradient(135deg,var(--ink) 0 3px,transparent 3px 7px)}
footer{margin-top:4rem;padding-top:.6rem;border-top:1px solid var(--hair);color:var(--grey);font-size:.85rem}
@media (max-width:36rem){.page{padding:1.5rem 1rem 3rem}h1{font-size:1.7rem}dl.facts{grid-template-columns:1fr}dl.facts dd{border-top:0;padding-top:0}dl.facts dt{padding-bottom:0}}
@media print{
:root{color-scheme:light;--ink:#1f2428;--grey:#555d64;--line:#8d979e;--hair:#d3d9dd;--panel:#f3f5f6;--ground:#fff;--accent:#125060}
@page{margin:20mm}
body{font-size:10pt}.page{max-width:none;padding:0}.skip,details,.to,.tools,.stepper,.tip,.ring,th button::after{display:none}
.paper{padding:0;overflow:visible}.paper svg{min-width:0}.scroll{overflow:visible}
h2,h3,h4,caption{break-after:avoid}figure,.note,tr{break-inside:avoid}thead{display:table-header-group}
.turn{break-before:page}
.note,.note::before{print-color-adjust:exact;-webkit-print-color-adjust:exact}
}
`
