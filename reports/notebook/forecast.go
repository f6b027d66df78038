package notebook

// checkForecast reports keys of a forecast that contradict one another.
func (r *askReader) checkForecast() {
	a := r.ask
	if a.Method != "forecast" {
		return
	}
	if a.Period == "case" {
		r.fail(a.At("period", "case"), CodeImpossible, "forecast counts by month, quarter or year")
	}
	if r.has("seasonal") && a.Period == "year" {
		r.fail(a.KeyPos["seasonal"], CodeImpossible, "years have no season; use period: quarter or month")
	}
}
