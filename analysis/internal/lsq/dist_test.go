package lsq

import (
	"math"
	"testing"

	"plybook/analysis/internal/lsq/lsqtest"
)

// R 4.2.2: qt, pt and pf with the arguments shown.
func TestTails(t *testing.T) {
	for _, c := range []struct {
		what      string
		got, want float64
	}{
		{"qt(0.975, 3.3)", TQuantile(0.975, 3.3), 3.024874461840807},
		{"qt(0.975, 0.5)", TQuantile(0.975, 0.5), 164.557673480494458},
		{"qt(0.975, 1.2)", TQuantile(0.975, 1.2), 8.648826510748867},
		{"qt(0.975, 30)", TQuantile(0.975, 30), 2.042272456301238},
		{"qt(0.975, 2e6)", TQuantile(0.975, 2e6), 1.959965170676374},
		{"qt(0.995, 1e7)", TQuantile(0.995, 1e7), 2.575829795203748},
		{"qt(0.975, Inf)", TQuantile(0.975, math.Inf(1)), 1.959963984540054},
		{"2*pt(-8, 1e7)", TP(8, 1e7), 1.24432348028067e-15},
		{"2*pnorm(-8)", TP(8, math.Inf(1)), 1.24419211485435e-15},
		{"pf(330.285339234593, 6, 9, lower=F)", FP(330.285339234593, 6, 9), 4.98403052872448e-10},
		{"pf(5, 3, Inf, lower=F)", FP(5, 3, math.Inf(1)), 0.00181664896657232},
		{"pf(0, 3, 5, lower=F)", FP(0, 3, 5), 1},
	} {
		lsqtest.Close(t, c.what, c.got, c.want, 1e-9)
	}
}
