package survival

import "testing"

// A log of a large lab over decades has tens of thousands of sockets.

func BenchmarkKaplanMeier100k(b *testing.B) {
	d, _ := sample(100_000, 1)
	d.Cluster = nil
	for b.Loop() {
		if _, err := KaplanMeier(d, CurveOptions{}); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkKaplanMeierClustered100k(b *testing.B) {
	d, _ := sample(100_000, 1)
	for b.Loop() {
		if _, err := KaplanMeier(d, CurveOptions{}); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkCumulativeIncidence100k(b *testing.B) {
	d, _ := sample(100_000, 1)
	for b.Loop() {
		if _, err := CumulativeIncidence(d, 2, CurveOptions{}); err != nil {
			b.Fatal(err)
		}
	}
}

// BenchmarkKaplanMeierSockets1M is three curves over a million sockets, parting
// the rows by group among it. The bound is a tenth of what R's package
// survival 3.5-3 takes for the same rows, which is measured at once. Measured
// on two cores: 37 to 52 ms beside 1.84 s, 35 to 50 times as long.
func BenchmarkKaplanMeierSockets1M(b *testing.B) {
	d, _ := benchRows(1_000_000)
	group := make([]float64, len(d.Time))
	for i := range group {
		group[i] = d.X[1][i] + d.X[2][i]
	}
	curves := func() {
		var parts [3]Data
		for i, g := range group {
			p := &parts[int(g)]
			cause := 0
			if d.Event[i] {
				cause = 1
			}
			p.Time, p.Cause = append(p.Time, d.Time[i]), append(p.Cause, cause)
		}
		for _, p := range parts {
			if _, err := KaplanMeier(p, CurveOptions{}); err != nil {
				b.Fatal(err)
			}
		}
	}
	held := heldTimes(len(d.Time)*(8*len(d.X)+8+1), curves) // of the sockets as Cox's regression has them
	b.ResetTimer()
	for range b.N {
		curves()
	}
	b.StopTimer()
	b.ReportMetric(held, "times-data-held")
	against(b, [][]float64{d.Time, asNumbers(d.Event), group}, "survival", "d <- list(time = m[, 1], event = m[, 2], group = m[, 3])", "survfit(Surv(time, event) ~ group, d)")
}

// Five columns, late entry, clusters: the time must grow in proportion to
// the rows, as the times per row of the two sizes show.
func benchmarkCox(b *testing.B, n int) {
	d, x := sample(n, 1)
	_, y := sample(n, 2)
	c := coxOf(d, append(x, y[0], y[2]), order(n))
	c.Names = append(c.Names, "d", "e")
	for b.Loop() {
		if _, err := FitCox(c, CoxOptions{}); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkCox5k(b *testing.B)  { benchmarkCox(b, 5_000) }
func BenchmarkCox20k(b *testing.B) { benchmarkCox(b, 20_000) }
