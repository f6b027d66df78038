package cohort

// Cause is a named set of end reasons counted as one kind of ending.
type Cause struct {
	Name  string
	Codes []string
	// Within limits the cause to endings up to so many days from the
	// socket's start; later ones are not of this cause. 0: no limit.
	Within float64
}

// Named returns the cause behind one of the named sets of end reasons:
// remake, early-remake, making, limb-change, untraced. ok is false for any
// other name.
func (c *Cohort) Named(name string) (cause Cause, ok bool) {
	switch name {
	case "remake":
		return Cause{Name: name, Codes: c.set.Remake}, true
	case "early-remake":
		return Cause{Name: name, Codes: c.set.Remake, Within: c.set.EarlyRemakeDays}, true
	case "making":
		return Cause{Name: name, Codes: c.set.Making}, true
	case "limb-change":
		return Cause{Name: name, Codes: c.set.LimbChange}, true
	case "untraced":
		return Cause{Name: name, Codes: c.set.Untraced}, true
	}
	return Cause{}, false
}

// LifeSpec says what counts as the life of a socket.
type LifeSpec struct {
	Start string // date column that starts the clock; empty: delivered (check sockets: first check fitting)
	End   string // date column that ends it; empty: the end of the socket
	Entry string // column from when it was watched: a date, or a number of days after the start; empty: none

	Events    []Cause // nil: the named set remake
	Competing []Cause // endings that preclude the event; causes after the events
	// Rest, if not empty, names a last cause that takes every other recorded
	// ending, apart from those in Settings.Untraced.
	Rest string
}
