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
