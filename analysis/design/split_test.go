package design

import (
	"reflect"
	"testing"

	"plybook/analysis/table"
)

// Three rows with a number and a category; the first comes in both parts.
func TestSplit(t *testing.T) {
	tab := table.New("sockets", 3)
	n, c := table.NewNumber("n", "", 3), table.NewText("c", 3)
	for i, v := range []float64{5, 7, 9} {
		n.SetNum(i, v)
		c.SetText(i, []string{"a", "b", "a"}[i])
	}
	for _, x := range []*table.Column{n, c} {
		if err := tab.Add(x); err != nil {
			t.Fatal(err)
		}
	}
	d, err := Build(tab, []int{0, 1, 2}, Spec{Terms: []string{"c", "n"}})
	if err != nil {
		t.Fatal(err)
	}
	of := []int{0, 0, 1, 2, 2}
	s := d.Split(of, map[string]Parts{"c": {Names: []string{"early", "late"}, Of: []int{0, 1, 0, 0, 1}}})
	want := [][]float64{{0, 0, 1, 0, 0}, {0, 0, 0, 0, 0}, {5, 5, 7, 9, 9}}
	if !reflect.DeepEqual(s.X, want) {
		t.Errorf("%v, want %v", s.X, want)
	}
	if got := s.Names(); !reflect.DeepEqual(got, []string{"c: b, early", "c: b, late", "n"}) {
		t.Errorf("%v", got)
	}
	if !reflect.DeepEqual(s.Rows, []int{0, 1, 2, 3, 4}) || !reflect.DeepEqual(s.Term, []int{0, 0, 1}) || !reflect.DeepEqual(s.InPart("c", "late"), []int{1}) {
		t.Errorf("rows %v, terms %v, late %v", s.Rows, s.Term, s.InPart("c", "late"))
	}
	if !reflect.DeepEqual(d.X[0], []float64{0, 1, 0}) || d.Columns[0].Part != "" {
		t.Errorf("the design it came from has changed: %v", d.X)
	}
}
