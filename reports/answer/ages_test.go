package answer_test

import (
	"fmt"
	"strings"
	"testing"
)

// TestAgesAboveEightyNineAreGrouped: no answer for the public tells an age
// above 89 or the year of birth behind it.
func TestAgesAboveEightyNineAreGrouped(t *testing.T) {
	var l, s strings.Builder
	l.WriteString("person,limb,side,level,born\n")
	s.WriteString("socket,limb,kind,cast_method,delivered,ended,end_reason\n")
	for i := range 60 {
		// Delivered on 1 January 2023: ages 94.5, 96.5, 98.5 and, for the rest, 60 and 70.
		born := []int{1928, 1926, 1924, 1963, 1953}[i%5]
		fmt.Fprintf(&l, "P%d,P%dL,left,TT,%d\n", i, i, born)
		ended, reason := "", ""
		if i%2 == 0 {
			ended, reason = day(100+i), "volume loss"
		}
		fmt.Fprintf(&s, "S%d,P%dL,definitive,%s,%s,%s,%s\n", i, i, []string{"hand", "vacuum"}[i/7%2], day(0), ended, reason)
	}
	log := readLog(t, sheets{"limbs": l.String(), "sockets": s.String()})
	asks := []string{
		"id: summary\nmethod: summary\ncolumns: [age, born]\nby: cast_method",
		"id: curves\nmethod: kaplan-meier\nby: age",
		"id: factor\nmethod: cox\nby: age\nfactors: [age]",
		"id: kept\nmethod: summary\ncolumns: [age]\nkeep: {age: 91..}",
		"id: limbs\nmethod: summary\nrows: limbs\ncolumns: [age, born]",
		"id: line\nmethod: linear\nrows: sockets\noutcome: age\nadjust: [cast_method]",
	}
	public := answersOf(t, log, nil, "audience: annual", asks...)
	for id, a := range public {
		all := strings.Join(printed(a), "\n") + fmt.Sprint(a.Tables)
		for _, told := range []string{"94.5", "96.5", "98.5", "1924", "1926", "1928"} {
			if containsWord(all, told) {
				t.Errorf("%s tells %s: %s", id, told, all)
			}
		}
	}
	if a := public["curves"]; !strings.Contains(strings.Join(printed(a), " "), "age 90 or over") && !strings.Contains(strings.Join(printed(a), " "), "Age 90 or over") {
		t.Errorf("no group of those of 90 or over: %v", printed(a))
	}
	for _, id := range []string{"summary", "curves", "limbs"} {
		if a := public[id]; a.Error != nil || !strings.Contains(a.Methods, "Ages above 89 are grouped") {
			t.Errorf("%s does not say that ages are grouped: %s %v", id, a.Methods, a.Error)
		}
	}
	wantError(t, public["kept"], "no-rows")
	// For the lab itself they stand as they are.
	inside := answersOf(t, log, nil, quality, asks...)
	if a := inside["kept"]; a.Error != nil || a.Rows != 36 {
		t.Errorf("for the lab: %d rows, %v", a.Rows, a.Error)
	}
}

// containsWord finds a number that stands alone.
func containsWord(s, word string) bool {
	for i := strings.Index(s, word); i >= 0; {
		before, after := byte(' '), byte(' ')
		if i > 0 {
			before = s[i-1]
		}
		if j := i + len(word); j < len(s) {
			after = s[j]
		}
		alone := func(c byte) bool { return !(c >= '0' && c <= '9' || c == '.') }
		if alone(before) && alone(after) {
			return true
		}
		next := strings.Index(s[i+1:], word)
		if next < 0 {
			return false
		}
		i += 1 + next
	}
	return false
}
