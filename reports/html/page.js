"use strict";
(() => {
  const all = (what, where) => [...(where || document).querySelectorAll(what)];
  const make = (tag, props, ...inside) => {
    const e = Object.assign(document.createElement(tag), props);
    e.append(...inside);
    return e;
  };
  // What a cell says, a break being a space.
  const says = cell => {
    const copy = cell.cloneNode(true);
    all("br", copy).forEach(br => br.replaceWith(" "));
    return copy.textContent.replace(/\s+/g, " ").trim();
  };

  // Numbers as the report prints them: a true minus, commas between thousands,
  // "< 11" where a small count is withheld, "about 370" where one is rounded.
  // Where decimals follow a comma, thousands stand apart by a space.
  const comma = document.documentElement.dataset.numbers === "comma";
  const number = text => {
    if (comma) text = text.replace(/(\d)[ \u00a0](?=\d{3}(?!\d))/g, "$1").replace(/(\d),(?=\d)/g, "$1.");
    const m = /^(<|≤|>|≥|about)?\s*([−+-]?)((?:\d{1,3}(?:,\d{3})+|\d+)(?:\.\d+)?)(?=$|[\s%(])/.exec(text);
    if (!m) return NaN;
    const v = Number(m[3].replace(/,/g, "")) * (m[2] === "−" || m[2] === "-" ? -1 : 1);
    return m[1] === "<" ? v - 1e-9 : m[1] === ">" ? v + 1e-9 : v;
  };
  const months = "January February March April May June July August September October November December".split(" ");
  const date = text => {
    const m = /^(?:(\d{1,2}) )?([A-Z][a-z]+) (?:(\d{1,2}), )?(\d{4})$/.exec(text);
    const month = m ? months.findIndex(x => x === m[2] || x.slice(0, 3) === m[2]) : -1;
    return month < 0 ? NaN : Number(m[4]) * 372 + month * 31 + Number(m[1] || m[3] || 1);
  };
  const absent = text => ["", "–", "hidden", "withheld", "not computed", "not recorded"].includes(text);
  const words = new Intl.Collator(document.documentElement.lang, { numeric: true });

  // Sorting: once upwards, once downwards, then as the report has it. What is
  // missing or withheld stays last, and so do totals.
  all("table[data-sort]").forEach(table => {
    const body = table.tBodies[0], heads = [...table.tHead.rows[0].cells];
    const rows = [...body.rows].filter(r => !r.classList.contains("strong"));
    const totals = [...body.rows].filter(r => r.classList.contains("strong"));
    heads.forEach((head, column) => {
      if (!says(head)) return;
      const button = make("button", { type: "button" });
      button.append(...head.childNodes);
      head.append(button);
      button.addEventListener("click", () => {
        const next = { ascending: "descending", descending: "" }[head.getAttribute("aria-sort")] ?? "ascending";
        heads.forEach(h => h.removeAttribute("aria-sort"));
        if (next) head.setAttribute("aria-sort", next);
        const turn = next === "descending" ? -1 : 1;
        const keyed = rows.map((row, place) => ({ row, place, text: says(row.cells[column]) }));
        const known = keyed.filter(k => !absent(k.text));
        const by = [date, number].find(f => known.every(k => !isNaN(f(k.text))));
        const compare = (a, b) => (by && by(a.text) - by(b.text)) || words.compare(a.text, b.text);
        if (next) keyed.sort((a, b) => absent(a.text) - absent(b.text) || turn * compare(a, b) || a.place - b.place);
        body.append(...keyed.map(k => k.row), ...totals);
      });
    });
  });

  // Tables as CSV: the cells as printed, what is withheld as it is shown. A
  // spreadsheet must not take a text for a formula: an apostrophe goes before
  // one that begins like it, numbers apart.
  const field = text => {
    if (/^[−-]?[\d,]*\.?\d+%?$/.test(text)) text = text.replace("−", "-");
    else if (/^['\s\p{C}\p{Z}]*[=+\-@＝＋－＠]/u.test(text)) text = "'" + text;
    return /[",\r\n]/.test(text) ? '"' + text.replace(/"/g, '""') + '"' : text;
  };
  all("div.table").forEach(block => {
    const table = all("table", block)[0];
    const name = all("caption strong", table).map(says)[0] || "Table";
    const save = make("button", { type: "button", className: "tool" }, "Save " + name.toLowerCase().replace(/\.$/, "") + " as CSV");
    save.addEventListener("click", () => {
      const lines = [...table.rows].map(row => [...row.cells].flatMap(c => [field(says(c)), ...Array(c.colSpan - 1).fill("")]).join(","));
      const address = URL.createObjectURL(new Blob(["\ufeff" + lines.join("\r\n") + "\r\n"], { type: "text/csv;charset=utf-8" }));
      make("a", { href: address, download: block.id + ".csv" }).click();
      setTimeout(() => URL.revokeObjectURL(address), 60000);
    });
    block.append(make("p", { className: "tools" }, save));
  });

  // Figures: the value nearest to the pointer is named beside its place, and a
  // slider beneath steps through the values by keyboard.
  all("figure").forEach(figure => {
    const rows = all("tr[data-at]", figure);
    if (!rows.length) return;
    const paper = all(".paper", figure)[0], svg = all("svg", paper)[0];
    const values = rows.map(row => {
      const [x, y] = row.dataset.at.split(" ").map(Number);
      const cells = [...row.cells].map(says), value = cells.pop();
      return { x, y, text: cells.filter(t => t).join(", ") + (cells.some(t => t) ? ": " : "") + value };
    });
    const ring = document.createElementNS(svg.namespaceURI, "circle");
    const tip = make("div", { className: "tip", hidden: true });
    tip.setAttribute("aria-hidden", "true"); // the slider says the same
    for (const [k, v] of [["r", 5], ["class", "ring"], ["visibility", "hidden"]]) ring.setAttribute(k, v);
    svg.append(ring);
    figure.append(tip);
    const hide = () => { tip.hidden = true; ring.setAttribute("visibility", "hidden"); };
    const show = v => {
      ring.setAttribute("cx", v.x);
      ring.setAttribute("cy", v.y);
      ring.setAttribute("visibility", "visible");
      tip.textContent = v.text;
      tip.hidden = false;
      const at = ring.getBoundingClientRect(), box = figure.getBoundingClientRect();
      const left = at.left + at.width / 2 - box.left - tip.offsetWidth / 2;
      tip.style.left = Math.max(0, Math.min(left, box.width - tip.offsetWidth)) + "px";
      const above = at.top - box.top - tip.offsetHeight - 6;
      tip.style.top = (above < 0 ? at.bottom - box.top + 6 : above) + "px";
    };
    svg.addEventListener("pointermove", e => {
      const p = new DOMPoint(e.clientX, e.clientY).matrixTransform(svg.getScreenCTM().inverse());
      let best = null, least = 30 * 30;
      for (const v of values) {
        const d = (v.x - p.x) ** 2 + (v.y - p.y) ** 2;
        if (d < least) [best, least] = [v, d];
      }
      best ? show(best) : hide();
    });
    svg.addEventListener("pointerleave", hide);
    const slider = make("input", { type: "range", min: 1, max: values.length, value: 1, step: 1 });
    const step = () => {
      const v = values[slider.value - 1];
      slider.setAttribute("aria-valuetext", v.text);
      return v;
    };
    step();
    slider.addEventListener("input", () => show(step()));
    slider.addEventListener("focus", () => show(step()));
    slider.addEventListener("blur", hide);
    document.addEventListener("keydown", e => { if (e.key === "Escape") hide(); });
    paper.after(make("label", { className: "stepper" }, "Step through the values", slider));
  });

  // A link to what is folded away opens it.
  const unfold = () => {
    for (let e = document.querySelector(":target"); e; e = e.parentElement) if (e.tagName === "DETAILS") e.open = true;
  };
  addEventListener("hashchange", unfold);
  unfold();
})();
