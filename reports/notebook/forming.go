package notebook

import (
	"regexp"
	"strconv"
	"strings"
)

// Bounds are the ends of a range, both included; nil where it is open.
type Bounds struct{ Low, High *float64 }

// FormingRange is a range that the lab took from the maker of a sheet, for one
// material and, where SheetMM is given, one thickness of it.
type FormingRange struct {
	Material  string
	SheetMM   *float64
	OvenC     *Bounds // oven temperature
	Minutes   *Bounds // in the oven
	Flipped   *Bounds // when turned, as a share of the minutes
	Thinnest  *Bounds // thinnest wall, mm
	Source    string  // where the range comes from, as written
	Pos       Pos
	SourcePos Pos
}

// rangeKeys are the keys of one entry of `ranges`, in the order of the manual.
var rangeKeys = []string{"material", "sheet_mm", "oven_c", "minutes", "flipped", "thinnest_mm", "source"}

// readRanges reads [{material: PETG, oven_c: 160..175, source: text}, ...]. A
// range without its source is not used: none is built in, and none is taken on
// trust.
func (r *askReader) readRanges(key string, n node) {
	items := []node{n}
	if n.kind == nodeList {
		items = n.items
	}
	if len(items) == 0 {
		r.fail(n.pos, CodeWrongType, "the list of `%s` is empty", key)
	}
	for _, it := range items {
		if it.kind != nodeMap {
			r.fail(it.pos, CodeWrongType, "each of `%s` is {material: PETG, oven_c: 160..175, source: where the range comes from}, not %s", key, it.kind)
			continue
		}
		if g, ok := r.formingRange(key, it); ok {
			r.ask.Ranges = append(r.ask.Ranges, g)
		}
	}
}

func (r *askReader) formingRange(key string, n node) (FormingRange, bool) {
	before := len(r.errs)
	g := FormingRange{Pos: n.pos}
	seen := map[string]bool{}
	for _, e := range n.entries {
		if seen[e.key] {
			r.fail(e.keyPos, CodeDuplicateKey, "`%s` stands in this range already", e.key)
			continue
		}
		seen[e.key] = true
		switch e.key {
		case "material":
			g.Material = r.text("material", e.value)
		case "sheet_mm":
			if v := r.positive("sheet_mm", e.value); v > 0 {
				g.SheetMM = &v
			}
		case "oven_c":
			g.OvenC = r.bounds("oven_c", e.value, false)
		case "minutes":
			g.Minutes = r.bounds("minutes", e.value, false)
		case "flipped":
			g.Flipped = r.bounds("flipped", e.value, true)
		case "thinnest_mm":
			g.Thinnest = r.bounds("thinnest_mm", e.value, false)
		case "source":
			g.Source, g.SourcePos = r.text("source", e.value), e.value.pos
		default:
			h, near := hint(e.key, rangeKeys)
			r.failNear(e.keyPos, CodeUnknownKey, near, "a range of `%s` has no %q; %s", key, e.key, h)
		}
	}
	for _, k := range []string{"material", "source"} {
		if !seen[k] {
			what := "the sheet it is for"
			if k == "source" {
				what = "the sheet maker's paper that it was taken from"
			}
			r.fail(n.pos, CodeMissingKey, "a range of `%s` needs `%s`, %s", key, k, what)
		}
	}
	if len(r.errs) == before && g.OvenC == nil && g.Minutes == nil && g.Flipped == nil && g.Thinnest == nil {
		r.fail(n.pos, CodeMissingKey, "a range of `%s` needs at least one of `oven_c`, `minutes`, `flipped` and `thinnest_mm`", key)
	}
	return g, len(r.errs) == before
}

var boundsForm = regexp.MustCompile(`^(-?[0-9]+(?:\.[0-9]+)?)?(%)? ?\.\. ?(-?[0-9]+(?:\.[0-9]+)?)?(%)?$`)

// bounds reads a range such as 160..175, 12.. or 40%..60%, the last as shares
// of one.
func (r *reader) bounds(key string, n node, share bool) *Bounds {
	before := len(r.errs)
	t := r.text(key, n)
	if len(r.errs) > before {
		return nil
	}
	form := "160..175"
	if share {
		form = "45%..55%"
	}
	m := boundsForm.FindStringSubmatch(t)
	if m == nil || m[1] == "" && m[3] == "" || !share && (m[2] != "" || m[4] != "") {
		r.fail(n.pos, CodeBadRange, "`%s` takes a range such as %s, not %q", key, form, t)
		return nil
	}
	percent := m[2] != "" || m[4] != ""
	if percent && (m[1] != "" && m[2] == "" || m[3] != "" && m[4] == "") {
		near := strings.ReplaceAll(t, "%", "")
		near = strings.Replace(near, "..", "%..", 1) + "%"
		r.failNear(n.pos, CodeBadRange, near, "both ends of `%s` are percent or neither; did you mean %s?", key, near)
		return nil
	}
	b := &Bounds{}
	for _, end := range []struct {
		text string
		to   **float64
	}{{m[1], &b.Low}, {m[3], &b.High}} {
		if end.text == "" {
			continue
		}
		v, _ := plainNumber(end.text)
		if percent {
			v /= 100
		}
		if v < 0 || share && v > 1 {
			r.fail(n.pos, CodeBadRange, "`%s` takes a range such as %s, not %q", key, form, t)
			return nil
		}
		*end.to = &v
	}
	if b.Low != nil && b.High != nil && *b.Low > *b.High {
		r.fail(n.pos, CodeBadRange, "the range of `%s` ends before it begins: %s", key, t)
		return nil
	}
	return b
}

// checkForming reports ranges that stand twice.
func (r *askReader) checkForming() {
	seen := map[string]Pos{}
	for _, g := range r.ask.Ranges {
		k := strings.ToLower(g.Material)
		if g.SheetMM != nil {
			k += "\x00" + strconv.FormatFloat(*g.SheetMM, 'g', -1, 64)
		}
		if p, ok := seen[k]; ok {
			r.fail(g.Pos, CodeImpossible, "a range of this sheet stands on line %d already; put all that is known of it into one", p.Line)
			continue
		}
		seen[k] = g.Pos
	}
}
