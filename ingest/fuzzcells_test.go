package ingest

import (
	"fmt"
	"math"
	"strconv"
	"strings"
	"testing"
)

// The cell parsers under fuzzing: none panics, nothing is read from an empty
// text, and what was read prints back to the same value.

func empty(s string) bool { return tidyText(s) == "" }

func FuzzNumber(f *testing.F) {
	for _, s := range []string{"32,5 cm", `12 3/4"`, "~", ">15", "1.234,5", "7-8", "12st 4", "1e9", "-", "½", "10+", "1h30", "1 234,5", "350 °F", "-20", "3/0"} {
		f.Add(s, false)
		f.Add(s, true)
	}
	f.Fuzz(func(t *testing.T, s string, comma bool) {
		n, err := parseNumber(s, comma)
		if err != nil {
			return
		}
		if empty(s) {
			t.Errorf("%q gave %g", s, n.value)
		}
		if math.IsNaN(n.value) || math.IsInf(n.value, 0) {
			t.Fatalf("%q gave %g", s, n.value)
		}
		text := strings.TrimSpace(strconv.FormatFloat(n.value, 'f', -1, 64) + " " + n.unit)
		if back, err := parseNumber(text, false); err != nil || back.value != n.value || back.unit != n.unit || back.approx != "" {
			t.Errorf("%q gave %+v, which prints as %q and reads as %+v, %v", s, n, text, back, err)
		}
	})
}

func FuzzComfort(f *testing.F) {
	for _, s := range []string{"7", "7/10", "7,5", "7 out of 10", "11", "6-7", "~7", "", "10/10", "-0"} {
		f.Add(s, false)
		f.Add(s, true)
	}
	f.Fuzz(func(t *testing.T, s string, comma bool) {
		if v, _, err := parseScore(s, comma); err == nil {
			if empty(s) || !(v >= 0 && v <= 10) {
				t.Errorf("%q gave the score %g", s, v)
			}
			text := strconv.FormatFloat(v, 'f', -1, 64) + "/10"
			if back, approx, err := parseScore(text, false); err != nil || back != v || approx != "" {
				t.Errorf("%q gave %g, which prints as %q and reads as %g, %v", s, v, text, back, err)
			}
		}
		if v, _, err := parseWhole(s, comma); err == nil {
			if empty(s) || v != math.Trunc(v) {
				t.Errorf("%q gave the whole number %g", s, v)
			}
			if back, _, err := parseWhole(strconv.FormatFloat(v, 'f', -1, 64), false); err != nil || back != v {
				t.Errorf("%q gave %g, which reads back as %g, %v", s, v, back, err)
			}
		}
	})
}

// plyText prints a ply so that it reads as the same.
func plyText(p Ply) string {
	one := func(total float64, socks []float64) string {
		if len(socks) == 0 {
			return strconv.FormatFloat(total, 'f', -1, 64)
		}
		var parts []string
		for _, s := range socks {
			parts = append(parts, strconv.FormatFloat(s, 'f', -1, 64))
		}
		return strings.Join(parts, "+")
	}
	text := one(p.Total, p.Socks)
	if p.Sheath {
		text += " + sheath"
	}
	if p.HalfSock {
		text += " + half sock"
	}
	switch {
	case p.Morning.OK && p.Evening.OK:
		text = "am " + one(p.Morning.Value, nil) + " / pm " + text
	case p.Morning.OK:
		text = "am " + text
	case p.Evening.OK:
		text = "pm " + text
	}
	return text
}

func FuzzPly(f *testing.F) {
	for _, s := range []string{"5+3", "1x5 1x3", "3-5", "am 3 / pm 8", "sheath + 3", "half sock", "(1) 5-ply, (2) 1-ply", "5 ply x2", "none", "am 15pm 8", "2 sheaths", "5,3", "3 am / 8 pm", "two 3-ply", "0+5", "15+"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		p, _, err := parsePly(s)
		if err != nil {
			return
		}
		sum := 0.0
		for _, x := range p.Socks {
			sum += x
		}
		if empty(s) || !(p.Total >= 0 && p.Total <= maxPly) || len(p.Socks) > 0 && math.Abs(sum-p.Total) > 1e-9 {
			t.Fatalf("%q gave %+v", s, p)
		}
		text := plyText(p)
		back, _, err := parsePly(text)
		if err != nil || math.Abs(back.Total-p.Total) > 1e-9 || back.Sheath != p.Sheath || back.HalfSock != p.HalfSock || back.Morning != p.Morning || back.Evening.OK != p.Evening.OK || len(p.Socks) > 1 && fmt.Sprint(back.Socks) != fmt.Sprint(p.Socks) {
			t.Errorf("%q gave %+v, which prints as %q and reads as %+v, %v", s, p, text, back, err)
		}
	})
}

func FuzzDate(f *testing.F) {
	for _, s := range []string{"2024-03-05", "5/3/24", "5 Mar 2024", "Mar-24", "20240305", "5-Mar", "29.02.2023", "24-03-05", "2024-03-05T10:20:00Z", "5 Mar 2024 2:30 pm", "12. 3. '24", "ca. 1998"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		pairFromText(s)
		r, err := readDate(s)
		if err != nil {
			return
		}
		if empty(s) {
			t.Errorf("%q gave %+v", s, r)
		}
		if r.minute.OK && (r.minute.Value <= 0 || r.minute.Value >= 1440) {
			t.Errorf("%q gave the minute %d", s, r.minute.Value)
		}
		for _, o := range []dateOrder{orderUnknown, orderDayFirst, orderMonthFirst, orderMixed, orderYearFirst, orderYearAsked} {
			d, ok := r.resolve(o)
			if !ok {
				continue
			}
			back, err := readDate(d.String())
			if e, exact := back.resolve(orderUnknown); err != nil || !exact || e != d {
				t.Errorf("%q gave %v, which reads back as %v, %v", s, d, e, err)
			}
		}
	})
}

func FuzzClock(f *testing.F) {
	f.Add("14:30", false)
	f.Add("2.30 pm", false)
	f.Add("0.6", true)
	f.Fuzz(func(t *testing.T, s string, isNumber bool) {
		m, err := parseClock(s, isNumber)
		if err != nil {
			return
		}
		if empty(s) || m < 0 || m >= 1440 {
			t.Fatalf("%q gave %d", s, m)
		}
		text := fmt.Sprintf("%02d:%02d", m/60, m%60)
		if back, err := parseClock(text, false); err != nil || back != m {
			t.Errorf("%q gave %d, which reads back as %d, %v", s, m, back, err)
		}
	})
}

// FuzzWords: a reading is a code of the vocabulary, one that is no known word
// is as certain as it must be, and the code itself reads as the code.
func FuzzWords(f *testing.F) {
	for _, s := range []string{"B/K", "heat relief + pad", "transtibal", "crest tib", "Y", "not done", "✓", "volume los", "vol loss & pain", "-"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		for _, v := range allVocabularies {
			ms, parts, ok := v.LookupAll(s)
			if !ok {
				continue
			}
			if empty(s) || len(ms) == 0 || len(ms) != len(parts) {
				t.Fatalf("%s: %q gave %+v of %q", v.Name(), s, ms, parts)
			}
			for _, m := range ms {
				if !v.Has(m.Code) || m.Certainty < MinCertainty || m.How == Near && (m.Certainty == 1 || m.Why == "") {
					t.Errorf("%s: %q gave %+v", v.Name(), s, m)
				}
				if back := v.Lookup(m.Code); back.Code != m.Code || back.How != Exact {
					t.Errorf("%s: %q gave %q, which reads back as %+v", v.Name(), s, m.Code, back)
				}
			}
		}
	})
}

func FuzzYesNo(f *testing.F) {
	for _, s := range []string{"Y", "no", "TRUE", "0", "yep", "not looked at", "☑", "maybe", "", "-"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		m := YesNo().Lookup(s)
		if m.How == NoMatch {
			return
		}
		if empty(s) || m.Code != "yes" && m.Code != "no" {
			t.Errorf("%q gave %+v", s, m)
		}
		if strings.HasPrefix(strings.ToLower(tidyText(s)), "not ") && m.Code == "yes" {
			t.Errorf("%q gave yes", s)
		}
	})
}

// FuzzSpan: the time that a log covers is made of its own dates and does not
// depend on their order.
func FuzzSpan(f *testing.F) {
	f.Add([]byte{1, 2, 3, 4, 5, 200, 7, 8, 9, 10, 11, 12}, false)
	f.Add([]byte{}, true)
	f.Fuzz(func(t *testing.T, data []byte, withToday bool) {
		var anchors, reversed []Date
		for i := 0; i+1 < len(data); i += 2 {
			anchors = append(anchors, Date(int(data[i])*256+int(data[i+1])-20000))
		}
		in := map[Date]bool{}
		for i := len(anchors) - 1; i >= 0; i-- {
			reversed = append(reversed, anchors[i])
			in[anchors[i]] = true
		}
		today := Opt[Date]{}
		if withToday {
			today = Some(Date(20000))
		}
		s := findSpan(anchors, nil, today)
		if other := findSpan(reversed, nil, today); other != s {
			t.Errorf("%+v and %+v by order", s, other)
		}
		if s.known && !in[s.start] || s.ownEnd && (!in[s.end] || s.end < s.start) || len(anchors) == 0 && s.known {
			t.Errorf("%+v of %v", s, anchors)
		}
		if end := findFollowed(s, anchors, reversed); end < s.end {
			t.Errorf("followed to %v, before the end %v", end, s.end)
		}
	})
}
