package answer

import (
	"testing"

	"plybook/analysis/table"
)

func TestAmountHasItsUnitInTheRightNumber(t *testing.T) {
	for want, c := range map[string]struct {
		v    float64
		unit string
	}{"1 day": {1, "days"}, "−1 month": {-1, "months"}, "0 days": {0, "days"}, "1.50 days": {1.5, "days"}, "1 ml": {1, "ml"}, "1%": {1, "%"}, "1": {1, ""}, "1 of 10": {1, "of 10"}} {
		if got := amount(c.v, c.unit); got != want {
			t.Errorf("%g %s: %q, want %q", c.v, c.unit, got, want)
		}
	}
}

func TestDateWordsSayDateOnce(t *testing.T) {
	for label, want := range map[string]string{"date of visit": "date of visit", "delivered": "date delivered", "": "date cast"} {
		if got := dateWords(&table.Column{Name: "cast", Label: label}); got != want {
			t.Errorf("%q: %q, want %q", label, got, want)
		}
	}
}
