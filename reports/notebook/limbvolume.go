package notebook

import (
	"strings"

	"plybook/analysis/limb"
)

// Axes says that sections are ellipses: their two widths stand in columns, or
// one ratio of them is stated with its source.
type Axes struct {
	Widths []string // two columns; nil where Ratio is stated
	Ratio  float64
	Source string // of the ratio, as written
}

// GirthRepeatability is how far girths measured again by the same person
// differ.
type GirthRepeatability struct {
	Own    float64 // standard deviation in mm of one girth, by itself
	Shared float64 // of all girths of one set together
	// Measurer is the standard deviation in mm by which all girths of one
	// person differ from those of another.
	Measurer float64
	Source   string // as written; may be empty
}

// HalfSphere is the word under `cap` that is no column.
const HalfSphere = "half-sphere"

// fields reads a map whose keys are among those given, each at most once.
func (r *reader) fields(key string, n node, valid []string, read func(e entry)) map[string]bool {
	seen := map[string]bool{}
	for _, e := range n.entries {
		if seen[e.key] {
			r.fail(e.keyPos, CodeDuplicateKey, "`%s` stands in `%s` already", e.key, key)
			continue
		}
		seen[e.key] = true
		if !contains(valid, e.key) {
			h, near := hint(e.key, valid)
			r.failNear(e.keyPos, CodeUnknownKey, near, "`%s` has no %q; %s", key, e.key, h)
			continue
		}
		read(e)
	}
	return seen
}

// readAxes reads {widths: [a, b]} or {ratio: 1.2, source: where from}.
func (r *askReader) readAxes(key string, n node) {
	const form = "`axes` takes {widths: [column, column]}, or {ratio: 1.2, source: where the ratio comes from}"
	if n.kind != nodeMap {
		r.fail(n.pos, CodeWrongType, form)
		return
	}
	a := &Axes{}
	seen := r.fields(key, n, []string{"widths", "ratio", "source"}, func(e entry) {
		switch e.key {
		case "widths":
			for _, it := range r.list("widths", e.value) {
				a.Widths = append(a.Widths, it.text)
			}
			if len(a.Widths) != 2 && e.value.kind == nodeList {
				r.fail(e.value.pos, CodeBadValue, "`widths` are two columns, the two widths of a section")
			}
		case "ratio":
			before := len(r.errs)
			a.Ratio = r.positive("ratio", e.value)
			if _, err := limb.RoundGirth(a.Ratio); err != nil && len(r.errs) == before {
				r.fail(e.value.pos, CodeBadValue, "`ratio` is that of the two widths of a section, from 0.2 to 5, not %s", e.value.text)
			}
		case "source":
			a.Source = r.text("source", e.value)
		}
	})
	switch {
	case seen["widths"] && (seen["ratio"] || seen["source"]):
		r.fail(n.pos, CodeImpossible, "`axes` has the widths in columns, or one ratio with its source, not both")
	case seen["ratio"] && !seen["source"]:
		r.fail(n.pos, CodeMissingKey, "`axes` needs `source`: "+form)
	case !seen["widths"] && !seen["ratio"]:
		r.fail(n.pos, CodeMissingKey, "%s", form)
	}
	r.ask.Axes = a
}

// readGirthRepeatability reads a number of mm, or {own: 2, shared: 1, source:
// where from}.
func readGirthRepeatability(r *reader, key string, n node) *GirthRepeatability {
	g := &GirthRepeatability{}
	mm := func(key string, n node) float64 {
		before := len(r.errs)
		v, _ := r.number(key, n)
		if len(r.errs) == before && !(v >= 0 && v <= 50) {
			r.fail(n.pos, CodeBadValue, "`%s` is a standard deviation in mm, from 0 to 50, not %s", key, n.text)
		}
		return v
	}
	if n.kind != nodeMap {
		before := len(r.errs)
		if g.Own = mm(key, n); g.Own == 0 && len(r.errs) == before {
			r.fail(n.pos, CodeBadValue, "`%s` is above 0: no girth is measured without error", key)
		}
		return g
	}
	seen := r.fields(key, n, []string{"own", "shared", "measurer", "source"}, func(e entry) {
		switch e.key {
		case "own":
			g.Own = mm("own", e.value)
		case "shared":
			g.Shared = mm("shared", e.value)
		case "measurer":
			g.Measurer = mm("measurer", e.value)
		case "source":
			g.Source = strings.TrimSuffix(r.text("source", e.value), ".")
		}
	})
	if !seen["own"] {
		r.fail(n.pos, CodeMissingKey, "`%s` needs `own`, the standard deviation in mm of one girth measured again: {own: 2, shared: 1, source: where from}", key)
	} else if g.Own == 0 && g.Shared == 0 && len(r.errs) == 0 {
		r.fail(n.pos, CodeBadValue, "`%s` is above 0: no girth is measured without error", key)
	}
	return g
}
