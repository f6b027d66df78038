package example

import (
	"fmt"
	"math"
	"strconv"
	"strings"
)

// visitDates are the ways dates were typed in each year's workbook; empty
// for true dates.
var visitDates = map[string]string{
	fileVisits(2024): "2.1.2006",
	fileVisits(2025): "2006-01-02",
	fileVisits(2026): "2 Jan 2006",
}

func (d *dirt) visits(s *sheet) {
	d.visitFaults(s)
	for _, column := range []string{"ply", "ply_left"} {
		d.respell(s, column, 1, d.writePly)
	}
	if layout := visitDates[s.file]; layout != "" {
		d.textDates(s, "date", 0.9, layout)
	}
	d.writeTimes(s)
	d.spell(s, "purpose", 0.5, map[string][]string{
		"check fitting": {"Check fitting", "check", "fitting"}, "delivery": {"Delivery", "del"},
		"follow-up": {"FU", "review", "Follow-up", "follow up"}, "walk-in": {"walk in", "unplanned", "Walk-in"},
	})
	d.spell(s, "accepted", 0.5, map[string][]string{"yes": {"Y", "y", "Yes"}, "adjusted": {"adj", "Adjusted", "yes after adjustment"}, "no": {"N", "No", "not accepted"}})
	d.spell(s, "skin_checked", 0.8, map[string][]string{"yes": {"y", "x", "Y", "done"}, "no": {"n", "not done"}})
	d.spell(s, "action", 0.5, map[string][]string{
		"sock advice": {"socks", "socks given"}, "heat relief": {"heat", "hot air"}, "ground": {"ground out", "grinding"},
		"pad added": {"pad", "padding"}, "trim line lowered": {"trim", "trimmed"}, "alignment": {"aligned"},
		"suspension": {"new sleeve"}, "reline": {"relined"}, "recast": {"re-cast", "Recast"}, "none": {"nil", "nothing"},
	})
	d.respell(s, "mass_kg", 0.1, func(v float64) any { return strconv.FormatFloat(v, 'f', 1, 64) + " kg" })
	d.respell(s, "minutes", 0.1, func(v float64) any { return plain(v) + " min" })
	for _, r := range d.some(s, 20, func(*row) bool { return true }) {
		r.fill = true // marked for the meeting, long since forgotten why
	}
	d.repeat(s, 3)
	d.gaps(s, 2)
}

// visitFaults plants what is wrong in a year's visits.
func (d *dirt) visitFaults(s *sheet) {
	comfort, ply := s.col("comfort"), s.col("ply")
	has := func(c int) func(*row) bool { return func(r *row) bool { return r.cells[c] != nil } }
	for _, r := range d.some(s, 1, has(comfort)) {
		s.plant(r, "comfort", 12.0, BadComfort)
	}
	// 3-5, meaning 4, turned into the 5th of March.
	for _, r := range d.some(s, 1, func(r *row) bool { return r.cells[ply] == 4.0 }) {
		s.plant(r, "ply", day(2024, 3, 5), BadPly)
	}
	next := 90001
	added := func(what Defect, column string, value any) {
		r := d.sample(s)
		s.set(r, "visit", fmt.Sprintf("V%d-%s", next, s.file[len("visits-"):len("visits-")+4]))
		next++
		s.plant(r, column, value, what)
		d.add(s, r)
	}
	added(UnknownSocket, "socket", "P9"+strconv.Itoa(10+d.r.IntN(89))+"L-1")
	added(BadDate, "date", "30.02."+s.file[len("visits-"):len("visits-")+4])
	added(FarDate, "date", day(1924, 5, 14))
	// The same visit typed once more from memory.
	i := d.r.IntN(len(s.rows))
	for len(s.rows[i].faults) > 0 || s.rows[i].cells[comfort] == nil {
		i = d.r.IntN(len(s.rows))
	}
	again := s.rows[i].copyOf()
	s.set(again, "comfort", math.Mod(s.rows[i].cells[comfort].(float64)+1, 10))
	again.faults = []fault{{0, DuplicateID}}
	s.insert(min(i+5, len(s.rows)), again)
}

// writePly writes total ply as clinicians do. What is read back is the same
// total: a range has it as its midpoint, a day's two values as the later.
func (d *dirt) writePly(total float64) any {
	n := int(total)
	if n == 0 {
		return d.one("0", "none", "0 ply")
	}
	list := socks(total).Socks
	u := d.r.Float64()
	switch {
	case u < 0.02 && n >= 2:
		return fmt.Sprintf("%d-%d", n-1, n+1)
	case u < 0.035 && n >= 3:
		return fmt.Sprintf("am %d / pm %d", n-1-d.r.IntN(2), n)
	case u < 0.10:
		return strconv.Itoa(n) + " ply"
	case u < 0.15 && len(list) == 1:
		return "sheath + " + strconv.Itoa(n)
	case u < 0.25 && len(list) > 1:
		return times(list)
	case u < 0.70 && len(list) > 1:
		parts := make([]string, len(list))
		for i, sock := range list {
			parts[i] = plain(sock)
		}
		return strings.Join(parts, d.one("+", "+", " + "))
	}
	return total
}

// times writes socks as 1x5 1x3.
func times(list []float64) string {
	var parts []string
	for i := 0; i < len(list); {
		j := i
		for j < len(list) && list[j] == list[i] {
			j++
		}
		parts = append(parts, fmt.Sprintf("%dx%s", j-i, plain(list[i])))
		i = j
	}
	return strings.Join(parts, " ")
}

func (d *dirt) writeTimes(s *sheet) {
	c := s.col("time")
	for _, r := range s.rows {
		at, ok := r.cells[c].(clock)
		if !ok || d.chance(0.6) {
			continue
		}
		h, m := int(at)/60, int(at)%60
		if d.chance(0.5) {
			r.cells[c] = fmt.Sprintf("%d:%02d", h, m)
			continue
		}
		half := "am"
		if h >= 12 {
			half = "pm"
		}
		r.cells[c] = fmt.Sprintf("%d:%02d %s", (h+11)%12+1, m, half)
	}
}
