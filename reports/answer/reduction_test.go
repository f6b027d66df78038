package answer_test

import (
	"fmt"
	"math"
	"strings"
	"testing"
)

// modelOptions say how the log of models below is made.
type modelOptions struct {
	persons int
	each    int // sockets of a person
	fits    func(k int) string
	girth   func(k, station int) (limb, target, model string)
	again   int // first sockets whose limb is measured a second time
	comfort func(k int) string
	extra   string // further rows of stations
}

// models is a log of models, each measured at 0, 40, 80 and 120 mm. As it
// stands, limbs are 300 mm at each station, models 3, 6, 9 and 12 mm smaller
// and targets one millimetre larger than the model.
func models(o modelOptions) sheets {
	o.each = max(o.each, 1)
	if o.girth == nil {
		o.girth = func(_, station int) (string, string, string) {
			return "300", fmt.Sprint(298 - 3*station), fmt.Sprint(297 - 3*station)
		}
	}
	if o.fits == nil {
		o.fits = func(k int) string { return []string{"yes", "adjusted", "no"}[k%3] }
	}
	if o.comfort == nil {
		o.comfort = func(k int) string { return fmt.Sprint(4 + k%5) }
	}
	limbs := []string{"person,limb,side,level"}
	sockets := []string{"socket,limb,kind,cast_on,delivered,shaped_by"}
	visits := []string{"visit,socket,date,purpose,accepted,comfort,action"}
	stations := []string{"limb,date,landmark,station_mm,over,repeat,socket,limb_mm,target_mm,model_mm,tissue"}
	k := 0
	for p := range o.persons {
		limbs = append(limbs, fmt.Sprintf("P%d,P%d-L,left,transtibial", p, p))
		for e := range o.each {
			day := fmt.Sprintf("20%02d-%02d-%02d", 20+e, 1+p%12, 1+p/12)
			sockets = append(sockets, fmt.Sprintf("S%d,P%d-L,definitive,%s,20%02d-12-%02d,T%d", k, p, day, 20+e, 1+p%28, 1+k%2))
			if o.fits(k) != "" {
				visits = append(visits, fmt.Sprintf("A%d,S%d,%s,check fitting,%s,,%s", k, k, day, o.fits(k), map[string]string{"yes": "none", "adjusted": "ground", "no": "recast"}[o.fits(k)]))
			}
			visits = append(visits, fmt.Sprintf("B%d,S%d,20%02d-01-05,follow-up,,%s,", k, k, 21+e, o.comfort(k)))
			for s := range 4 {
				limb, target, model := o.girth(k, s)
				stations = append(stations, fmt.Sprintf("P%d-L,%s,MTP,%d,skin,1,S%d,%s,%s,%s,%s", p, day, 40*s, k, limb, target, model, []string{"bony", "bony", "soft", ""}[s]))
				if k < o.again {
					stations = append(stations, fmt.Sprintf("P%d-L,%s,MTP,%d,skin,2,,%d,,,", p, day, 40*s, 300+k%2))
				}
			}
			k++
		}
	}
	if o.extra != "" {
		stations = append(stations, o.extra)
	}
	return sheets{"limbs": strings.Join(limbs, "\n"), "sockets": strings.Join(sockets, "\n"), "visits": strings.Join(visits, "\n"), "stations": strings.Join(stations, "\n")}
}

func TestReductionByHand(t *testing.T) {
	a := one(t, models(modelOptions{persons: 24}), quality, "method: reduction")
	rows := table(t, a, "rows")
	if a.Rows != 96 || len(rows.Rows) != 8 { // the whole, three thirds, four stations
		t.Fatalf("%d rows, %v", a.Rows, rows.Rows)
	}
	// 1, 2, 3 and 4 percent.
	want(t, row(t, rows, "region", "all"), "sockets", 24, "persons", 24, "reduction", 2.5, "std_dev", 0.0, "low", nil, "limb_mm", 300.0, "model_mm", 292.5, "target_mm", 293.5, "model_less_target", -1.0, "lower_limit", nil, "targets", 24)
	want(t, row(t, rows, "region", "proximal third"), "reduction", 1.0)
	want(t, row(t, rows, "region", "middle third"), "reduction", 2.5, "model_mm", 292.5)
	want(t, row(t, rows, "region", "distal third"), "reduction", 4.0)
	want(t, row(t, rows, "station_mm", 80.0), "reduction", 3.0, "target_reduction", 100*8.0/300, "region", nil)
	answers := table(t, a, "answers")
	want(t, row(t, answers, "answer", "adjusted"), "sockets", 8, "reduction", 2.5)
	want(t, row(t, answers, "answer", "not known"), "sockets", 0, "reduction", nil)
	want(t, row(t, table(t, a, "actions"), "action", "ground"), "as_it_was", 0, "adjusted", 8, "not_accepted", 0)
	want(t, row(t, table(t, a, "shares"), "from", 2.5), "to", 2.5, "sockets", 24, "first_fit", 16)
	wantCaution(t, a, "not-a-trial", "recommend no reduction")
	wantCaution(t, a, "no-curve", "the same mean reduction")
	wantCaution(t, a, "tape-unknown")
	if len(table(t, a, "terms").Rows) != 0 {
		t.Error("a slope of one reduction")
	}
	named := one(t, models(modelOptions{persons: 24}), quality, "method: reduction\nregion: tissue\nby: shaped_by")
	want(t, row(t, table(t, named, "rows"), "group", "T1", "region", "bony"), "sockets", 12, "reduction", 1.5)
	want(t, row(t, table(t, named, "rows"), "group", "T2", "region", "soft"), "reduction", 3.0)
	if !strings.Contains(named.Reading, "T1: models were 2.50% smaller than the limb on average, in 12 sockets") {
		t.Error(named.Reading)
	}
	wantError(t, one(t, models(modelOptions{persons: 24}), quality, "method: reduction\nregion: station_mm"), "impossible", "column of words")
	wantError(t, one(t, models(modelOptions{persons: 24}), quality, "method: reduction\nby: tissue"), "impossible", "differs between girths of one socket")
	wantError(t, one(t, models(modelOptions{persons: 24, girth: func(int, int) (string, string, string) { return "300", "290", "" }}), quality, "method: reduction"), "no-models", "no reduction to tell")
}

// varied are models whose reductions differ from socket to socket.
func varied(k, station int) (limb, target, model string) {
	return "300", fmt.Sprint(290 - k%7), fmt.Sprint(291 - k%7 - station%2*(k%3))
}

func TestReductionCautions(t *testing.T) {
	plain := one(t, models(modelOptions{persons: 40, girth: varied, again: 12}), quality, "method: reduction")
	if len(plain.Figures) != 3 {
		t.Errorf("%d figures", len(plain.Figures))
	}
	many := models(modelOptions{persons: 40, girth: varied, again: 12})
	other := many.with("stations", many["stations"]+"\nP0-L,2020-01-01,MTP,0,liner,1,S0,310,300,300,")
	for _, c := range []struct {
		code, ask string
		log       sheets
		phrases   []string
	}{
		{"tape-unknown", "", models(modelOptions{persons: 40, girth: varied}), []string{"Fewer than 10 girths"}},
		{"few-sockets", "", models(modelOptions{persons: 12, girth: varied}), []string{"MTP, over skin (12)"}},
		{"repeatability", "", models(modelOptions{persons: 40, again: 12, girth: func(k, station int) (string, string, string) {
			return "300", "299", fmt.Sprint(299 - k%2*9)
		}}), []string{"80 of 160 stations", "which two readings of one girth"}},
		{"series-left", "", other, []string{"1 socket was measured from another landmark"}},
		{"series-apart", "", many.with("stations", strings.ReplaceAll(many["stations"], "P3-L,2020-04-01,MTP,", "P3-L,2020-04-01,tibial tubercle,")), []string{"2 different landmarks", "never compared"}},
		{"missing", "", many.with("stations", strings.ReplaceAll(many["stations"], ",S5,", ",,")), []string{"measurements have the girth of a model but no socket"}},
		{"missing", "", models(modelOptions{persons: 40, girth: varied, fits: func(k int) string { return []string{"yes", ""}[k%2] }}), []string{"Of 20 sockets it is not known what the first fitting said"}},
		{"missing", "by: shaped_by", many.with("sockets", strings.ReplaceAll(many["sockets"], ",T2", ",")), []string{"20 sockets were left out because shaped by is not recorded"}},
		{"no-curve", "", models(modelOptions{persons: 40, girth: varied, fits: func(int) string { return "yes" }}), []string{"fewer than five models"}},
		{"few-events", "", models(modelOptions{persons: 40, girth: varied, fits: func(k int) string { return []string{"no", "yes", "yes", "yes", "yes", "yes"}[k%6] }}), []string{"Only 7 models did not fit the first time"}},
		{"bends", "", models(modelOptions{persons: 70, girth: varied, fits: func(k int) string {
			if (k%7 == 0 || k%7 == 6) != (k%10 == 0) {
				return "no"
			}
			return "yes"
		}}), []string{"does not go one way"}},
		{"comfort-bends", "", models(modelOptions{persons: 70, girth: varied, comfort: func(k int) string {
			d := k%7 - 3
			return fmt.Sprint(10 - d*d + k%2)
		}}), []string{"Comfort does not go one way"}},
		{"one-person", "", models(modelOptions{persons: 1, each: 3, girth: varied}), []string{"of one person"}},
		{"check-socket", "", many.with("sockets", strings.ReplaceAll(many["sockets"], "definitive", "check")), []string{"unsupervised"}},
	} {
		if x := caution(plain, c.code); x != "" {
			t.Errorf("%s is raised without cause: %s", c.code, x)
		}
		wantCaution(t, one(t, c.log, quality, "method: reduction\n"+c.ask), c.code, c.phrases...)
	}
	wantCaution(t, plain, "many-comparisons", "7 intervals")
	if x := caution(one(t, models(modelOptions{persons: 24}), quality, "method: reduction"), "many-comparisons"); x != "" {
		t.Errorf("no interval, yet many: %s", x)
	}
	far := models(modelOptions{persons: 40, girth: func(k, station int) (string, string, string) { return "300", "290", fmt.Sprint(290 - k%40) },
		fits: func(k int) string { return []string{"no", "yes"}[min(k/20, 1)] }})
	wantCaution(t, one(t, far, quality, "method: reduction"), "no-curve", "lie apart")
	short := many.with("stations", strings.Join(strings.Split(many["stations"], "\n")[:3], "\n"))
	a := one(t, short, quality, "method: reduction")
	wantCaution(t, a, "missing", "fewer than three stations")
	want(t, row(t, table(t, a, "rows"), "region", "all"), "sockets", 1, "low", nil)
}

// Several sockets of one person widen the intervals; for the public no single
// socket is drawn, nor the ends of a stretch given.
func TestReductionOfPersonsAndForThePublic(t *testing.T) {
	byPerson := func(k, station int) (string, string, string) {
		return "300", "290", fmt.Sprint(280 + (k/5)%9 + station%2)
	}
	repeated := one(t, models(modelOptions{persons: 16, each: 5, girth: byPerson}), quality, "method: reduction")
	single := one(t, models(modelOptions{persons: 80, girth: byPerson}), quality, "method: reduction")
	wide := func(m map[string]any) float64 { return m["high"].(float64) - m["low"].(float64) }
	x, y := wide(row(t, table(t, repeated, "rows"), "region", "all")), wide(row(t, table(t, single, "rows"), "region", "all"))
	if !(x > 1.5*y) {
		t.Errorf("interval of 16 persons %g, of 80 %g", x, y)
	}
	a := one(t, models(modelOptions{persons: 90, girth: varied, again: 12, extra: "P0-L,2020-01-01,tibial tubercle,0,skin,1,S0,310,300,300,"}), "audience: annual", "method: reduction")
	for _, s := range table(t, a, "shares").Rows {
		if s[2] != nil || s[3] != nil || s[4].(int) < 11 {
			t.Errorf("stretch %v", s)
		}
	}
	for _, f := range a.Figures {
		if strings.Contains(f.Long, "Ticks") {
			t.Errorf("single sockets: %s", f.Long)
		}
	}
	want(t, row(t, table(t, a, "answers"), "answer", "as it was"), "sockets", 30)
	few := one(t, models(modelOptions{persons: 40, girth: varied, fits: func(k int) string { return []string{"yes", "no"}[min(k/36, 1)] }}), "audience: annual", "method: reduction")
	want(t, row(t, table(t, few, "answers"), "answer", "not accepted"), "sockets", nil, "reduction", nil)
	want(t, row(t, table(t, few, "answers"), "answer", "as it was"), "sockets", nil)
	if r := table(t, few, "rows").Rows; len(r) != 8 || math.IsNaN(r[0][7].(float64)) {
		t.Errorf("rows: %v", r)
	}
	for _, s := range printed(few) {
		for _, n := range []string{"36", " 4 models", "90%"} {
			if strings.Contains(s, n) {
				t.Errorf("%q tells of few: %s", n, s)
			}
		}
	}
	wantError(t, one(t, models(modelOptions{persons: 8, girth: varied}), "audience: annual", "method: reduction"), "too-few-to-show")
}
