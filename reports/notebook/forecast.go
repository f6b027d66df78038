package notebook

// checkCompleteness reports what a strip of shares cannot show.
func (r *askReader) checkCompleteness() {
	a := r.ask
	if a.Method != "completeness" {
		return
	}
	if a.Period == "case" {
		r.fail(a.At("period", "case"), CodeImpossible, "completeness counts by month, quarter or year")
	}
	if a.Goal != nil && !(*a.Goal > 0 && *a.Goal <= 1) {
		r.fail(a.KeyPos["goal"], CodeBadValue, "the goal of completeness lies above 0%% and at most at 100%%")
	}
}

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
