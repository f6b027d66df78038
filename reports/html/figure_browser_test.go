package html

import (
	"os"
	"path/filepath"
	"testing"

	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"

	"plybook/reports/browser"
	"plybook/reports/document"
	"plybook/reports/figure"
)

func pointed() *document.Document {
	f := &figure.Figure{ID: "f", Title: "Sockets still in use", Description: "Two curves.", Width: 400, Height: 200, Draw: func(draw.Canvas) {},
		ValueHeads: [3]string{"Curve", "Time", "Still in use"},
		Values: []figure.Value{
			{At: vg.Point{X: 100, Y: 150}, Series: "hand", Where: "1 year", Text: "78% (70% to 85%)"},
			{At: vg.Point{X: 300, Y: 50}, Series: "hand", Where: "2 years", Text: "61%"},
			{At: vg.Point{X: 300, Y: 120}, Series: "vacuum", Where: "2 years", Text: "72%"},
		}}
	return &document.Document{Title: "Values", Blocks: []document.Block{document.Heading{Level: 1, Text: "A"}, document.Figure{Figure: f, Caption: "Sockets.", Sheet: "lasting"}}}
}

// tipOf is what is said beside a place of the figure, or nothing.
const tipOf = `(t=>t.hidden?"":t.textContent)(document.querySelector(".tip"))`

// The value nearest to the pointer is named, at its place; away from all there
// is none.
func TestPointerNamesValues(t *testing.T) {
	p := opened(t, pointed(), browser.Options{})
	var at struct{ X, Y, Width, Height float64 }
	p.Run(t, `(r=>({X:r.x,Y:r.y,Width:r.width,Height:r.height}))(document.querySelector("figure svg").getBoundingClientRect())`, &at)
	for _, c := range []struct {
		x, y float64 // in the drawing, from its upper left corner
		want string
	}{
		{103, 52, "hand, 1 year: 78% (70% to 85%)"},
		{295, 145, "hand, 2 years: 61%"},
		{301, 95, "vacuum, 2 years: 72%"},
		{200, 100, ""},
	} {
		p.Point(t, at.X+c.x/400*at.Width, at.Y+c.y/200*at.Height)
		var got string
		p.Run(t, tipOf, &got)
		if got != c.want {
			t.Errorf("at %g, %g: %q, want %q", c.x, c.y, got, c.want)
		}
	}
}

// A slider beneath the figure steps through the same values by keyboard, says
// each in words, and Escape takes the mark away.
func TestKeysNameValues(t *testing.T) {
	p := opened(t, pointed(), browser.Options{})
	p.Run(t, `document.querySelector(".paper").focus()`, nil)
	p.Press(t, "Tab")
	said := func() (s struct {
		Words, Tip, Ring string
		Value            string
	}) {
		p.Run(t, `(s=>({Words:s.getAttribute("aria-valuetext"),Value:s.value,Tip:`+tipOf+`,Ring:document.querySelector(".ring").getAttribute("visibility")}))(document.activeElement)`, &s)
		return s
	}
	if got := said(); got.Words != "hand, 1 year: 78% (70% to 85%)" || got.Tip != got.Words || got.Ring != "visible" {
		t.Errorf("on the way in: %+v", got)
	}
	p.Press(t, "ArrowRight", "ArrowRight")
	if got := said(); got.Words != "vacuum, 2 years: 72%" || got.Tip != got.Words {
		t.Errorf("two steps on: %+v", got)
	}
	p.Press(t, "Escape")
	if got := said(); got.Tip != "" || got.Ring != "hidden" {
		t.Errorf("after Escape: %+v", got)
	}
	p.Press(t, "Home")
	if got := said(); got.Value != "1" || got.Tip == "" {
		t.Errorf("at the start: %+v", got)
	}
}

// The line beneath a figure leads to its numbers and opens them, and names
// the workbook.
func TestFigureLeadsToItsNumbers(t *testing.T) {
	b := browser.Start(t)
	file := filepath.Join(t.TempDir(), "page.html")
	w, err := os.Create(file)
	if err != nil {
		t.Fatal(err)
	}
	if err := Render(w, pointed(), Options{Book: "numbers.xlsx"}); err != nil {
		t.Fatal(err)
	}
	if err := w.Close(); err != nil {
		t.Fatal(err)
	}
	p := b.Open(t, file, browser.Options{})
	var got struct {
		Before, After bool
		Line          string
		Rows          int
	}
	p.Run(t, `new Promise(done=>{
		const d=document.querySelector("details.numbers"), before=d.open;
		addEventListener("hashchange",()=>setTimeout(()=>done({Before:before,After:d.open,Line:document.querySelector(".to").textContent,Rows:d.querySelectorAll("tbody tr").length})));
		document.querySelector(".to a").click()})`, &got)
	if got.Before || !got.After || got.Rows != 3 || got.Line != "The numbers: as a table beneath; at full precision in numbers.xlsx, sheet lasting." {
		t.Errorf("%+v", got)
	}
}
