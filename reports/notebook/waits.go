package notebook

// checkWaits reports keys of waiting times that contradict one another.
func (r *askReader) checkWaits() {
	a := r.ask
	if a.Method != "turnaround" {
		return
	}
	if r.has("period") && r.has("by") {
		r.fail(a.KeyPos["period"], CodeImpossible, "waits are told apart by `period` or by `by`, not by both; keep one period with `keep` and ask `by` of it")
	}
	if len(a.Steps) == 1 {
		r.fail(a.At("steps", a.Steps[0]), CodeImpossible, "a wait runs from one step to another, so `steps` lists at least two")
	}
	for i, s := range a.Steps {
		if contains(a.Steps[:i], s) {
			r.fail(a.At("steps", s), CodeImpossible, "`steps` lists %q twice", s)
		}
	}
}
