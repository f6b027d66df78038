package forecast

// Look is what would have been foretold of a past stretch from the counts
// before it, and what was counted.
type Look struct {
	From, To int // periods of the series, To excluded
	Amount
	Seen   float64
	Before float64 // counted in as many periods before: what a lab would say without a model
	Inside bool    // Seen lies from Low to High
}

// BackTest foretells, for the last stretches of so many periods, each from
// the counts before it alone, the newest last. A stretch needs two years, and
// MinPeriods, before it; where none has them the result is empty.
func BackTest(s Series, o Options, ahead int, confidence float64, seed int) ([]Look, error) {
	var out []Look
	for to := len(s.Count); to-ahead >= max(2*s.Cycle, MinPeriods, ahead); to -= ahead {
		from := to - ahead
		f, err := New(Series{Count: s.Count[:from], First: s.First, Cycle: s.Cycle}, o)
		if err != nil {
			return nil, err
		}
		p, err := f.Predict(ahead, confidence, seed)
		if err != nil {
			return nil, err
		}
		l := Look{From: from, To: to, Amount: p.Total}
		for _, y := range s.Count[from:to] {
			l.Seen += y
		}
		for _, y := range s.Count[from-ahead : from] {
			l.Before += y
		}
		l.Inside = l.Low <= l.Seen && l.Seen <= l.High
		out = append([]Look{l}, out...)
	}
	return out, nil
}
