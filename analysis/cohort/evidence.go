package cohort

import "math"

// LastEvidence is the last day, not after To, on which anything was recorded
// of a person; ok is false where nothing was, or where nobody is called so.
// Sockets still in use are censored then.
func (c *Cohort) LastEvidence(person string) (day float64, ok bool) {
	i, ok := c.persons.index[person]
	if !ok || person == "" || math.IsInf(c.persons.evidence[i], 0) {
		return nan, false
	}
	return c.persons.evidence[i], true
}
