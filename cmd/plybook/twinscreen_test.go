package main

import (
	"os"
	"path/filepath"
	"testing"

	"plybook/reports/browser"
)

// onGround looks at each text of the figures of a page as it is painted: what
// lies beneath it, laid over each other up to the ground, and its contrast
// with that (WCAG 2.2, 1.4.3 asks for 4.5:1).
const onGround = `(() => {
	const of = s => { const m = s.match(/[\d.]+/g).map(Number); return m.length < 4 ? [...m, 1] : m; };
	const part = v => (v /= 255) <= 0.04045 ? v / 12.92 : ((v + 0.055) / 1.055) ** 2.4;
	const light = c => 0.2126 * part(c[0]) + 0.7152 * part(c[1]) + 0.0722 * part(c[2]);
	const over = (a, c, k) => a.map((v, i) => v + k * (c[i] - v));
	const poor = [];
	let texts = 0, least = 21;
	for (const paper of document.querySelectorAll(".paper")) {
		const ground = of(getComputedStyle(paper).backgroundColor);
		for (const text of paper.querySelectorAll("svg text")) {
			text.scrollIntoView({ block: "center", inline: "center" });
			const r = text.getBoundingClientRect();
			const beneath = document.elementsFromPoint(r.x + r.width / 2, r.y + r.height / 2).filter(e => paper.contains(e));
			const at = beneath.indexOf(text);
			let under = ground.slice(0, 3);
			for (const e of beneath.slice(at + 1).reverse()) {
				const s = getComputedStyle(e);
				if (e.tagName === "path" && s.fill !== "none") under = over(under, of(s.fill).slice(0, 3), Number(s.fillOpacity));
			}
			const s = getComputedStyle(text), ink = over(under, of(s.fill).slice(0, 3), Number(s.fillOpacity));
			const [a, b] = [light(ink), light(under)].sort((x, y) => y - x), ratio = (a + 0.05) / (b + 0.05);
			texts++;
			least = Math.min(least, ratio);
			if (ratio < 4.5 && poor.length < 10) poor.push(paper.closest("figure").id + ": " + text.textContent + " " + ratio.toFixed(2) + " (" + ink.map(Math.round) + " on " + under.map(Math.round) + ")");
		}
	}
	return { Texts: texts, Least: least, Poor: poor, Ground: getComputedStyle(document.querySelector(".paper")).backgroundColor };
})()`

// pastEdge are the elements that make the page itself scroll sideways.
const pastEdge = `(() => {
	const wide = document.documentElement.clientWidth, out = [];
	for (const e of document.body.querySelectorAll("*")) {
		if (e.closest(".paper svg") || e.closest(".skip")) continue;
		let boxed = false;
		for (let b = e.parentElement; b; b = b.parentElement) boxed = boxed || getComputedStyle(b).overflowX !== "visible";
		if (!boxed && e.getBoundingClientRect().right > wide + 1 && out.length < 5) out.push(e.tagName + "." + e.className + " " + e.textContent.slice(0, 40));
	}
	return { Scroll: document.documentElement.scrollWidth, Wide: wide, Past: out };
})()`

// unreached are boxes that scroll sideways and cannot be reached by keyboard,
// and links of figures that lead nowhere.
const unreached = `(() => {
	const out = [];
	for (const e of document.querySelectorAll(".scroll,.paper")) if (e.scrollWidth > e.clientWidth + 1 && e.tabIndex < 0) out.push("a box that scrolls: " + e.textContent.slice(0, 40));
	let links = 0;
	for (const a of document.querySelectorAll("figure .to a")) {
		links++;
		const to = a.getAttribute("href");
		if (to.startsWith("#") ? !document.getElementById(to.slice(1)) : to !== "numbers.xlsx") out.push("a link to " + to);
	}
	return { Out: out, Links: links };
})()`

// The three reports on screens: figures are read on light and on dark ground;
// on a narrow screen (320 CSS pixels, which is also 1280 at 400 percent; WCAG
// 2.2, 1.4.10), at half the usual width (200 percent) and without scripts no
// page scrolls sideways, what is wide scrolls in a box that the keyboard
// reaches, and figures lead to their numbers.
func TestPagesOnScreens(t *testing.T) {
	b := browser.Start(t)
	for name, file := range examplePages(t) {
		if _, err := os.Stat(filepath.Join(filepath.Dir(file), "numbers.xlsx")); err != nil {
			t.Errorf("%s: %v", name, err)
		}
		for dark, ground := range map[bool]string{false: "rgb(255, 255, 255)", true: "rgb(20, 25, 28)"} {
			p := b.Open(t, file, browser.Options{Dark: dark})
			var got struct {
				Texts  int
				Least  float64
				Poor   []string
				Ground string
			}
			p.Run(t, onGround, &got)
			t.Logf("%s, dark %v: %d texts of figures, the least contrast is %.2f", name, dark, got.Texts, got.Least)
			if got.Texts < 200 || got.Ground != ground {
				t.Errorf("%s, dark %v: %d texts on %s", name, dark, got.Texts, got.Ground)
			}
			for _, poor := range got.Poor {
				t.Errorf("%s, dark %v: %s", name, dark, poor)
			}
		}
		for _, o := range []browser.Options{{Width: 320}, {Width: 320, NoScripts: true}, {Width: 550}} {
			p := b.Open(t, file, o)
			p.Run(t, `document.querySelectorAll("details").forEach(d=>d.open=true)`, nil)
			var edge struct {
				Scroll, Wide int
				Past         []string
			}
			p.Run(t, pastEdge, &edge)
			if edge.Scroll > edge.Wide || len(edge.Past) > 0 {
				t.Errorf("%s, %+v: %d wide on a screen of %d: %q", name, o, edge.Scroll, edge.Wide, edge.Past)
			}
			var reach struct {
				Out   []string
				Links int
			}
			p.Run(t, unreached, &reach)
			if len(reach.Out) > 0 || reach.Links < 10 {
				t.Errorf("%s, %+v: %d links of figures; %q", name, o, reach.Links, reach.Out)
			}
		}
	}
}

// The keyboard goes down a page in the order in which it is read, and shows
// where it is.
func TestKeysGoDownThePage(t *testing.T) {
	b := browser.Start(t)
	dir := t.TempDir()
	plybook(t, dir, "example", "demo").want(t, 0)
	plybook(t, dir, "run", filepath.Join("demo", "quality.md")).want(t, 0)
	p := b.Open(t, filepath.Join(dir, "demo", "quality-report", "report.html"), browser.Options{})
	p.Run(t, `window.last=document.body`, nil)
	kinds := map[string]int{}
	for i := range 120 {
		p.Press(t, "Tab")
		var at struct {
			Kind, Outline string
			After, Seen   bool
		}
		p.Run(t, `(e=>{
			const after=!!(window.last.compareDocumentPosition(e)&(Node.DOCUMENT_POSITION_FOLLOWING|Node.DOCUMENT_POSITION_CONTAINED_BY));
			window.last=e;
			const r=e.getBoundingClientRect(), s=getComputedStyle(e);
			return {Kind:e.tagName,Outline:s.outlineStyle+s.outlineWidth,After:after,Seen:r.width>0&&r.bottom>0&&r.top<innerHeight};
		})(document.activeElement)`, &at)
		if at.Kind == "BODY" {
			break
		}
		kinds[at.Kind]++
		if !at.After || !at.Seen || at.Outline == "none0px" {
			t.Errorf("step %d: %+v", i+1, at)
		}
	}
	for _, kind := range []string{"A", "DIV", "INPUT", "SUMMARY", "BUTTON"} {
		if kinds[kind] == 0 {
			t.Errorf("the keyboard met %v and no %s", kinds, kind)
		}
	}
}
