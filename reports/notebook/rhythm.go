package notebook

// noTime is the value of `time` where a rhythm is to have no trend.
const noTime = "none"

// defaultsOfRhythm fills what an ask of a rhythm leaves out. A trend that is
// not wanted has no column of time.
func (r *askReader) defaultsOfRhythm() {
	a := r.ask
	if a.Rows == "" {
		a.Rows = "visits"
	}
	if a.Waves == 0 {
		a.Waves = 1
	}
	switch {
	case a.Time == noTime:
		a.Time = ""
	case a.Time == "" && a.Rows == "stations":
		a.Time = "months_since_amputation"
	case a.Time == "":
		a.Time = "days_since_delivery"
	}
}

// checkRhythm reports what does not go together in a rhythm.
func (r *askReader) checkRhythm() {
	a := r.ask
	if a.Method != "rhythm" {
		return
	}
	if r.has("scale") && a.Time == "" {
		r.fail(a.KeyPos["scale"], CodeImpossible, "`scale` is the scale of `time`, and with `time: none` there is none; leave one of the two out")
	}
	if a.Cycle == "day" && a.Rows == "stations" {
		r.fail(a.At("cycle", a.Cycle), CodeImpossible, "girths are recorded by the date, without the time of the day; ask `rows: visits`, whose volume is that of the same day, or `cycle: year`")
	}
	place := map[string]string{"day": "hour_of_day", "year": "month_of_year"}[a.Cycle]
	if a.Outcome == place && place != "" {
		r.fail(a.At("outcome", a.Outcome), CodeImpossible, "%q says where in the %s a row lies and cannot go up and down with it", a.Outcome, a.Cycle)
	}
	if contains(a.Adjust, place) {
		r.fail(a.At("adjust", place), CodeImpossible, "%q says where in the %s a row lies, which the waves tell already", place, a.Cycle)
	}
}
