package notebook

import (
	"strings"
	"testing"
)

func TestForetoldFaults(t *testing.T) {
	const ask = "id: a\nmethod: mixed\nrows: visits\noutcome: ply\n"
	for _, f := range []struct{ body, code, text string }{
		{"time: days_since_delivery\nlimb: P1-L\n", CodeMissingKey, "after each of `times`"},
		{"time: days_since_delivery\ntimes: 30d\n", CodeMissingKey, "one `limb` is foretold"},
		{"by: cause\nlimb: P1-L\ntimes: 30d\n", CodeMissingKey, "over `time`"},
		{"time: days_since_delivery\nlimb: P1-L\ntimes: 30d\ncrossed: [seen_by]\nscatter_by: measured_by\ntaken_by: {seen_by: A1, measured_by: B2}\n", "", ""},
		{"time: days_since_delivery\nlimb: P1-L\ntimes: 30d\ncrossed: [seen_by]\ntaken_by: {measured_by: A1}\n", CodeImpossible, "neither in `crossed` nor in `scatter_by`"},
		{"time: days_since_delivery\ncrossed: [seen_by]\ntaken_by: {seen_by: A1}\n", CodeImpossible, "of one `limb`, which is not given"},
		{"time: days_since_delivery\nlimb: P1-L\ntimes: [30d, 1y]\nnested_in: person\n", "", ""},
	} {
		nb, err := Parse("lab.md", []byte("---\ntitle: T\n---\n```ask\n"+ask+f.body+"```\n"))
		if err != nil {
			t.Fatal(err)
		}
		e := nb.Asks()[0].Err
		switch {
		case f.code == "" && e != nil, f.code != "" && e == nil:
			t.Errorf("%q: %v", f.body, e)
		case e != nil && (e.Code != f.code || !strings.Contains(e.Text, f.text)):
			t.Errorf("%q: %s (%s)", f.body, e.Text, e.Code)
		}
	}
}
