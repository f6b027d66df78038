package main

import (
	"fmt"
	"math"
	"regexp"
	"slices"
	"strconv"
	"strings"
)

// share is a number shown that is one count over another, as a share or in
// percent: of the two, whoever knows one knows the other.
type share struct {
	id       string
	part, of int
	percent  float64
	shown    bool // in the numbers
	missing  int  // not in the whole; -1 where that is not told
}

// shareOf says whether a number is a part of a whole, as a share or in percent.
func shareOf(column string, v any, part, of int) (percent float64, ok bool) {
	x, is := v.(float64)
	if !is || part <= 0 || of <= 0 || !strings.Contains(column, "percent") && !strings.Contains(column, "share") {
		return 0, false
	}
	p := 100 * float64(part) / float64(of)
	return p, math.Abs(x-p) < 1e-9 || math.Abs(x-p/100) < 1e-11
}

// ratios finds numbers that are one count of a row over another, or over a
// total of the answer.
func (r *reader) ratios(cell map[string]int, order []string, used, trueRow map[string]map[string]any, totals map[string]int) {
	for _, l := range order {
		counts := map[string]int{}
		for _, col := range countColumns {
			if i, ok := cell[l+"\x00"+col]; ok {
				counts[col] = i
			}
		}
		for name, v := range trueRow[l] {
			for _, part := range counts {
				of := []int{}
				for _, i := range counts {
					of = append(of, i)
				}
				for _, i := range totals {
					of = append(of, i)
				}
				for _, whole := range of {
					if whole == part {
						continue
					}
					if p, ok := shareOf(name, v, r.k.unknowns[part].truth, r.k.unknowns[whole].truth); ok {
						r.shares = append(r.shares, share{"", part, whole, p, used[l][name] == v, -1})
					}
				}
			}
		}
	}
}

// wholeOf finds what the shares of some cells are of, where that is their sum
// and stands nowhere.
func (r *reader) wholeOf(where string, class []string, cell map[string]int, col string, parts []int, used, trueRow map[string]map[string]any) {
	sum := 0
	for _, i := range parts {
		sum += r.k.unknowns[i].truth
	}
	id, _, _ := strings.Cut(where, " ")
	whole := -1
	for _, l := range class {
		i := cell[l+"\x00"+col]
		if !slices.Contains(parts, i) {
			continue
		}
		for name, v := range trueRow[l] {
			p, ok := shareOf(name, v, r.k.unknowns[i].truth, sum)
			if !ok {
				continue
			}
			if whole < 0 {
				whole = r.k.of(fmt.Sprintf("what shares are of in %s %s %s", where, class[0], col), sum)
				r.k.sum(whole, parts...)
			}
			missing, ok := cell[l+"\x00missing"]
			if !ok {
				missing = -1
			}
			r.shares = append(r.shares, share{id, i, whole, p, used[l][name] == v, missing})
		}
		missing, ok := cell[l+"\x00missing"]
		if all, have := cell[l+"\x00rows"]; ok && have && whole >= 0 {
			r.k.sum(all, whole, missing)
		}
	}
}

// worked puts in what follows from shares shown, until nothing more does.
func (r *reader) worked() {
	for again := true; again; {
		again = false
		for _, s := range r.shares {
			a, b := &r.k.unknowns[s.part], &r.k.unknowns[s.of]
			if s.shown && a.known != b.known {
				a.tell("from a share")
				b.tell("from a share")
				again = true
			}
		}
	}
}

// printedShares bounds wholes by shares that are printed beside their counts,
// to as many decimals as they have.
func (r *reader) printedShares(sections map[string][]string) {
	for _, s := range r.shares {
		a, b := r.k.unknowns[s.part], &r.k.unknowns[s.of]
		if s.id == "" || s.shown || !a.known || b.known {
			continue
		}
		form := regexp.MustCompile(`(?:^|[^0-9.,])` + regexp.QuoteMeta(written(a.truth)) + ` \(([0-9]+(?:\.[0-9]+)?)%\)`)
		for _, text := range sections[s.id] {
			// The page says what its shares are of.
			if s.missing >= 0 && !r.k.unknowns[s.missing].known && strings.Contains(text, "shares are of all rows") {
				continue
			}
			for _, m := range form.FindAllStringSubmatch(text, -1) {
				_, after, _ := strings.Cut(m[1], ".")
				if m[1] != fmt.Sprintf("%.*f", len(after), s.percent) {
					continue
				}
				printed, _ := strconv.ParseFloat(m[1], 64)
				half := math.Pow(10, -float64(len(after)))/2 + 1e-9
				b.low = max(b.low, int(math.Ceil(100*float64(a.truth)/(printed+half))))
				if high := int(100 * float64(a.truth) / (printed - half)); printed > half && (b.high < 0 || high < b.high) {
					b.high = high
				}
			}
		}
	}
}

// means finds groups whose sizes follow from their means and that of all: as
// many as there are equations, two with the number of all, three with standard
// deviations.
func (r *reader) means(cell map[string]int, order []string, used, trueRow map[string]map[string]any) {
	classes := map[string][]string{}
	for _, l := range order {
		if _, ok := trueRow[l]["mean"].(float64); ok {
			rest := map[string]any{}
			for n, v := range used[l] {
				if n != "group" {
					rest[n] = v
				}
			}
			classes[labelsOf(rest)] = append(classes[labelsOf(rest)], l)
		}
	}
	for _, class := range classes {
		equations, sum, total := 3, 0, -1
		var open []int
		for _, l := range class {
			i, ok := cell[l+"\x00count"]
			if !ok || used[l]["mean"] == nil {
				equations = 0
				break
			}
			if used[l]["std_dev"] == nil {
				equations = min(equations, 2)
			}
			if used[l]["group"] == "all" {
				total = i
				continue
			}
			sum += r.k.unknowns[i].truth
			if !r.k.unknowns[i].known {
				open = append(open, i)
			}
		}
		if total < 0 || !r.k.unknowns[total].known || sum != r.k.unknowns[total].truth || len(open) > equations {
			continue
		}
		for _, i := range open {
			r.k.unknowns[i].tell("from means")
		}
	}
}
