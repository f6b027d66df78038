package notebook

import (
	"sort"
	"strings"
)

var decisionKeys = []string{"on", "what", "who", "review", "follows", "new_phase"}

// parseDecision reads a decision. It always returns one.
func parseDecision(c chunk) *Decision {
	d := &Decision{Pos: c.pos, Src: c.body.source(), KeyPos: map[string]Pos{}}
	if c.fault != nil {
		d.Err = c.fault
		return d
	}
	root, err := parseYAML(c.body)
	if err != nil {
		d.Err = err
		return d
	}
	r := &reader{}
	for _, e := range root.entries {
		if p, ok := d.KeyPos[e.key]; ok {
			r.fail(e.keyPos, CodeDuplicateKey, "`%s` stands on line %d already", e.key, p.Line)
			continue
		}
		switch e.key {
		case "on":
			if v := r.date(e.key, e.value); v != nil {
				d.On = *v
			}
		case "what":
			d.What = r.text(e.key, e.value)
		case "who":
			d.Who = r.text(e.key, e.value)
		case "review":
			d.Review = r.date(e.key, e.value)
		case "follows":
			d.Follows = r.text(e.key, e.value)
		case "new_phase":
			d.NewPhase = r.yes(e.key, e.value)
		default:
			h, near := hint(e.key, decisionKeys)
			r.failNear(e.keyPos, CodeUnknownKey, near, "a decision has no key %q; %s", e.key, h)
			continue
		}
		d.KeyPos[e.key] = e.keyPos
		if e.key == "follows" {
			d.followsPos = e.value.pos
		}
	}
	for _, k := range []string{"on", "what"} {
		if _, ok := d.KeyPos[k]; !ok {
			r.fail(d.Pos, CodeMissingKey, "a decision needs `%s`", k)
		}
	}
	if d.Review != nil && *d.Review < d.On {
		r.fail(d.KeyPos["review"], CodeImpossible, "the review is due before the decision was made")
	}
	if _, ok := d.KeyPos["follows"]; d.NewPhase && !ok {
		r.fail(d.KeyPos["new_phase"], CodeImpossible, "`new_phase` needs `follows`: the chart that starts a new phase")
	}
	d.Err, d.More = r.first()
	return d
}

// checkIDs reports an id that an earlier ask has. Ids that differ in case
// alone would be one file on some systems, so they count as the same.
func checkIDs(asks []*Ask) {
	seen := map[string]Pos{}
	for _, a := range asks {
		if a.ID == "" {
			continue
		}
		low := strings.ToLower(a.ID)
		if p, ok := seen[low]; ok {
			a.add(&Error{Pos: a.At("id", a.ID), Code: CodeDuplicateID,
				Text: "the id " + quote(a.ID) + " is taken by the ask on line " + itoa(p.Line)})
			continue
		}
		seen[low] = a.Pos
	}
}

// checkInShort reports questions of the first page that there are not.
func checkInShort(nb *Notebook) Errors {
	var ids []string
	for _, a := range nb.Asks() {
		ids = append(ids, a.ID)
	}
	var errs Errors
	for _, p := range nb.Front.InShort {
		if !contains(ids, p.Text) {
			h, near := hint(p.Text, ids)
			errs = append(errs, &Error{Pos: p.Pos, Code: CodeBadValue, Text: "`in_short` lists the ids of questions, and no question has the id " + quote(p.Text) + "; " + h, Nearest: near})
		}
	}
	return errs
}

// checkFollows reports decisions that follow no ask of the notebook.
func checkFollows(nb *Notebook) {
	var ids []string
	method := map[string]string{}
	for _, a := range nb.Asks() {
		if a.ID != "" {
			ids = append(ids, a.ID)
			if _, ok := method[a.ID]; !ok {
				method[a.ID] = a.Method
			}
		}
	}
	sort.Strings(ids)
	for _, d := range nb.Decisions() {
		if d.Follows == "" {
			continue
		}
		m, ok := method[d.Follows]
		switch {
		case !ok:
			text, near := "no ask has the id "+quote(d.Follows), Nearest(d.Follows, ids)
			if near != "" {
				text += "; did you mean " + quote(near) + "?"
			} else if len(ids) > 0 {
				text += "; the ids are " + andList(ids)
			}
			d.add(&Error{Pos: d.followsPos, Code: CodeUnknownID, Text: text, Nearest: near})
		case d.NewPhase && m != "" && m != "control-chart":
			d.add(&Error{Pos: d.KeyPos["new_phase"], Code: CodeImpossible,
				Text: "only a control-chart has phases; " + quote(d.Follows) + " is a " + m})
		}
	}
}

// add puts a fault among those of the ask, in order of place.
func (a *Ask) add(e *Error) { a.Err, a.More = insert(a.Err, a.More, e) }

func (d *Decision) add(e *Error) { d.Err, d.More = insert(d.Err, d.More, e) }

func insert(first *Error, more []*Error, e *Error) (*Error, []*Error) {
	r := reader{errs: append([]*Error{}, more...)}
	if first != nil {
		r.errs = append([]*Error{first}, r.errs...)
	}
	r.errs = append(r.errs, e)
	return r.first()
}
