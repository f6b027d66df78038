package cohort

// Visits are the days, since its start, on which each life was looked at while
// watched: the visits about the socket after the start and after it came under
// observation, up to its end, in their order. The visit at which the clock
// starts is none of them.
func (l *Lives) Visits() [][]float64 {
	c := l.cohort
	out := make([][]float64, l.Len())
	for i, k := range l.socket {
		for _, v := range c.sockets.visits[k] {
			day := c.visits.date[v] - l.Start[i]
			if day <= l.Entry[i] || day > l.Time[i] {
				continue
			}
			out[i] = append(out[i], day)
		}
	}
	return out
}
