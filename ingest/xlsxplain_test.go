package ingest

import (
	"fmt"
	"math/rand/v2"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
)

// Cells say the same however they are written: plainly, which is read in one
// go, or with comments, CDATA, references, blanks in tags and text in pieces.
// Some of the rows end where the buffer does.
func TestPlainCells(t *testing.T) {
	r := rand.New(rand.NewPCG(8, 3))
	around := func(text string) string {
		cut := r.IntN(len(text) + 1)
		switch r.IntN(4) {
		case 0:
			return text[:cut] + "<!-- a note -->" + text[cut:]
		case 1:
			return "<![CDATA[" + text + "]]>"
		case 2:
			return fmt.Sprintf("&#%d;", text[0]) + text[1:]
		}
		return text[:cut] + "<![CDATA[" + text[cut:] + "]]>"
	}
	var plain, odd strings.Builder
	both := func(p, o string) {
		plain.WriteString(p)
		odd.WriteString(o)
	}
	head := `<row r="1"><c r="A1" t="inlineStr"><is><t>person</t></is></c><c r="B1" t="inlineStr"><is><t>side</t></is></c><c r="C1" t="inlineStr"><is><t>level</t></is></c>` +
		`<c r="D1" t="inlineStr"><is><t>born</t></is></c><c r="E1" t="inlineStr"><is><t>weight</t></is></c></row>`
	both(head, head)
	for i := 2; i < 5000; i++ {
		both(fmt.Sprintf(`<row r="%d">`, i), fmt.Sprintf(`<row r="%d">`, i))
		for c, text := range []string{fmt.Sprintf("P%04d", i), "L", []string{"BK", "AK"}[i%2]} {
			at := fmt.Sprintf(`<c r="%s%d" t="inlineStr">`, columnName(c), i)
			both(at+`<is><t>`+text+`</t></is></c>`, at+`<is ><t xml:space="preserve">`+around(text)+`</t ></is></c>`)
		}
		for c, text := range []string{fmt.Sprint(1930 + i%60), fmt.Sprint(50+i%40, ".5")} {
			at := fmt.Sprintf(`<c r="%s%d">`, columnName(3+c), i)
			both(at+`<v>`+text+`</v></c>`, at+` <v>`+around(text)+`</v></c >`)
		}
		both(`</row>`, `</row>`)
	}
	a := read(t, Options{}, archive(t, "a.xlsx", bookOf(plain.String())))
	b := read(t, Options{}, archive(t, "b.xlsx", bookOf(odd.String())))
	if len(a.Limbs) != 4998 || len(a.Own[TableLimbs]) != 1 {
		t.Fatalf("%d limbs, %d own columns", len(a.Limbs), len(a.Own[TableLimbs]))
	}
	for _, log := range []*Log{a, b} {
		for i := range log.Sheets {
			log.Sheets[i].File, log.Sheets[i].SHA256 = "", ""
		}
		for i := range log.Problems {
			log.Problems[i].File = ""
		}
	}
	if diff := cmp.Diff(a, b); diff != "" {
		t.Errorf("plain and odd:\n%.2000s", diff)
	}
}

// Bare numbers are read the same the short way and by the rules for all others.
func TestPlainDigits(t *testing.T) {
	for text, want := range map[string]float64{"0": 0, "007": 7, "12.50": 12.5, "1234567.125": 1234567.125, "0.001": 0.001} {
		if !isPlainDigits(text) {
			t.Errorf("%q is plain", text)
		}
		for _, s := range []string{text, "+" + text} {
			if v, thousands, err := readDigits(s, false); v != want || thousands || err != nil {
				t.Errorf("%q is read as %g, %v, %v", s, v, thousands, err)
			}
		}
	}
	for _, text := range []string{"", ".", "1.", ".5", "1.2.3", "-1", "1,5", "1e3", " 1"} {
		if isPlainDigits(text) {
			t.Errorf("%q is not plain", text)
		}
	}
}
