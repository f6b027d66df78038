package cohort

import (
	"math"

	"plybook/analysis/table"
)

// Fitted is what the first check fitting said of the model that a socket was
// made over, and how comfortable the socket worn in the end was.
type Fitted struct {
	Seen     bool   // a check fitting is recorded
	Accepted string // yes, adjusted or no; empty where it cannot be told
	Actions  string // all that was done then, as the column actions has it
	// Comfort is that on arrival at the first visit after delivery that scored
	// it, of the socket itself or, of a check socket, the one that it became.
	// NaN without, and where another check socket was made on the way.
	Comfort float64
}

// Fittings tells of each socket how its first check fitting went. Of a check
// socket it is its own, "no" where another check socket followed; of any other
// it is the first of those that led to it, by the rule of first_fit.
func (c *Cohort) Fittings() map[string]Fitted {
	s := &c.sockets
	actions, comfort := c.visitText("actions"), c.visitNumber("comfort")
	remade := map[int]bool{} // check sockets that another one followed
	for _, group := range s.checks {
		for _, k := range group[:max(len(group)-1, 0)] {
			remade[k] = true
		}
	}
	for j, id := range s.replaces {
		if i, ok := s.index[id]; ok && i != j && !s.hidden[j] && s.kind[j] == KindCheck {
			remade[i] = true
		}
	}
	out := map[string]Fitted{}
	for i, id := range s.id {
		if id == "" || s.hidden[i] {
			continue
		}
		f := Fitted{Comfort: nan}
		at, worn := -1, i
		if s.kind[i] == KindCheck {
			if at = c.ownFitting(i); at >= 0 {
				f.Accepted = c.visits.accepted[at]
			}
			worn = s.leadsTo[i]
			if remade[i] {
				worn = -1
				if at >= 0 {
					f.Accepted = "no"
				}
			}
		} else if said := c.fittings(i); said.at >= 0 {
			at = said.at
			switch {
			case said.first == "no":
				f.Accepted = "no"
			case said.clean == "yes":
				f.Accepted = AcceptedYes
			case said.first == "yes":
				f.Accepted = AcceptedAdjusted
			}
		}
		if at >= 0 {
			f.Seen = true
			f.Actions = actions(at)
		}
		if worn >= 0 {
			f.Comfort = c.firstComfort(worn, comfort)
		}
		out[id] = f
	}
	return out
}

// ownFitting is the first check fitting written under a socket; -1 without.
func (c *Cohort) ownFitting(i int) int {
	v := &c.visits
	first := -1
	for _, k := range c.sockets.visits[i] {
		j := int(k)
		if v.known[j] && v.purpose[j] == PurposeCheckFitting && (first < 0 || c.visitBefore(j, first)) {
			first = j
		}
	}
	return first
}

// firstComfort is the comfort of the first visit after delivery that scored
// it. That of the delivery itself, on arrival, is of the socket before.
func (c *Cohort) firstComfort(i int, comfort func(int) float64) float64 {
	v := &c.visits
	first, score := -1, nan
	for _, k := range c.sockets.visits[i] {
		j := int(k)
		if !v.known[j] || !(v.date[j] >= c.sockets.delivered[i]) || v.purpose[j] == PurposeDelivery || v.purpose[j] == PurposeCheckFitting {
			continue
		}
		if x := comfort(j); !math.IsNaN(x) && (first < 0 || c.visitBefore(j, first)) {
			first, score = j, x
		}
	}
	return score
}

// visitText reads a text column of the visits, empty where there is none.
func (c *Cohort) visitText(name string) func(int) string {
	col, ok := c.base[Visits].Col(name)
	if !ok || col.Own || col.Kind != table.Text {
		return func(int) string { return "" }
	}
	return func(i int) string {
		if col.Missing[i] {
			return ""
		}
		return col.Text[i]
	}
}

// visitNumber reads a number column of the visits, NaN where there is none.
func (c *Cohort) visitNumber(name string) func(int) float64 {
	col, ok := c.base[Visits].Col(name)
	if !ok || col.Own || col.Kind != table.Number {
		return func(int) float64 { return nan }
	}
	return func(i int) float64 {
		if col.Missing[i] {
			return nan
		}
		return col.Num[i]
	}
}
