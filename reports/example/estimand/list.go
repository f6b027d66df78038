package estimand

import (
	"fmt"
	"math"

	"plybook/reports/example"
)

// The groups and reasons that the notebook asks about.
const (
	hand, vacuum    = "hand", "vacuum"
	volumeLoss      = "remake: volume loss"
	wear            = "remake: breakage or wear"
	died, otherwise = "died", "other endings"
	inUse           = "still in use"
	allRemakes      = "remake"
)

// Why an interval does not hold its share in a log of this size.
const (
	skewed     = "the mean is skewed, its interval symmetric"
	fewPersons = "fewer than 40 persons"
	steep      = "maximum likelihood takes the shape 2% too high from 100 events"
)

// list works out every estimand from a truth.
func list(t example.Truth) []Estimand {
	var out []Estimand
	out = append(out, hazards(t)...)
	out = append(out, weibull(t)...)
	out = append(out, survival(t)...)
	out = append(out, incidences(t)...)
	out = append(out, measures(t)...)
	return append(out, workshop(t)...)
}

// term is a term of a model.
func term(ask, name, column string, category any, truth float64) Estimand {
	return Estimand{Name: name, Ask: ask, Truth: truth, table: "terms", where: Row{"term": column, "category": category}}
}

func hazards(t example.Truth) []Estimand {
	var out []Estimand
	add := func(ask, what, column, category string, truth float64) {
		m := term(ask, "log hazard ratio, "+what, column, category, truth)
		m.reading = logRatio
		out = append(out, m)
	}
	for _, a := range []struct{ ask, of string }{{"effects", ""}, {"clustered-effects", ", clustered"}, {"limb-change-effects", ", remakes for the limb"}} {
		add(a.ask, "vacuum"+a.of, "cast_method", vacuum, t.LogHRVacuum)
		add(a.ask, "first socket"+a.of, "first_definitive", "yes", t.LogHRFirst)
		add(a.ask, "vascular"+a.of, "cause", "vascular", t.LogHRCause["vascular"])
		add(a.ask, "diabetes"+a.of, "cause", "diabetes", t.LogHRCause["diabetes"])
	}
	add("stratified-effects", "vacuum, causes as strata", "cast_method", vacuum, t.LogHRVacuum)
	add("stratified-effects", "first socket, causes as strata", "first_definitive", "yes", t.LogHRFirst)
	add("no-effects", "activity K1", "activity", "K1", 0)
	add("no-effects", "activity K2", "activity", "K2", 0)
	add("no-effects", "site Ferry Steps", "site", "Ferry Steps", 0)
	add("no-effects", "female", "sex", "female", 0)

	for _, p := range []struct {
		method, cause, profile string
		first                  bool
	}{
		{hand, "trauma", "cast method hand, cause trauma, first definitive no", false},
		{vacuum, "vascular", "cast method vacuum, cause vascular, first definitive yes", true},
	} {
		which := "later"
		if p.first {
			which = "first"
		}
		for _, days := range []float64{180, 365, 730} {
			out = append(out, Estimand{Name: fmt.Sprintf("predicted share not remade at %g d, %s socket, %s, %s", days, which, p.method, p.cause), Ask: "effects",
				Truth: t.Survival(p.method, p.cause, p.first, days), table: "predicted", where: Row{"profile": p.profile, "time": days}})
		}
	}
	return out
}

// weibull are the parameters of the curve that the lives were drawn from. Lives
// are rounded up to whole days, which lengthens them by half a day: a
// thousandth of the scale.
func weibull(t example.Truth) []Estimand {
	const ask = "weibull"
	ratio := func(what, column, category string, truth float64) Estimand {
		return Estimand{Name: "log hazard ratio, " + what + ", Weibull", Ask: ask, Truth: truth, reading: logRatio,
			table: "hazard_ratios", where: Row{"term": column, "category": category}}
	}
	shape := term(ask, "log of 1/shape of the Weibull curve", "log_scale", nil, -math.Log(t.Shape))
	shape.Short = steep
	return []Estimand{
		term(ask, "log of the Weibull scale in days", "intercept", nil, math.Log(t.ScaleDays)),
		shape,
		ratio("vacuum", "cast_method", vacuum, t.LogHRVacuum),
		ratio("first socket", "first_definitive", "yes", t.LogHRFirst),
		{Name: "day by which 25% are remade, later socket, hand, trauma, Weibull", Ask: ask, Truth: t.ScaleDays * math.Pow(-math.Log(0.75), 1/t.Shape),
			table: "quantiles", where: Row{"quantile": 0.25}},
	}
}

func survival(t example.Truth) []Estimand {
	var out []Estimand
	for _, a := range []struct {
		ask, who, cause string
		first           bool
		times           []float64
		until           int
		spread          []float64 // of the day by which 25% are remade
	}{
		{"lasting", "later sockets", "trauma", false, []float64{180, 365, 730}, 730, []float64{107, 160}},
		{"lasting-vascular", "later sockets, vascular or diabetes", "vascular", false, []float64{180, 365, 730}, 730, []float64{77, 119}},
		{"lasting-first", "first sockets", "trauma", true, []float64{365}, 365, []float64{124, 154}},
	} {
		for k, method := range []string{hand, vacuum} {
			until := Row{"group": method, "time": a.until}
			who := a.who + ", " + method
			for _, days := range a.times {
				at := Row{"group": method, "time": days}
				out = append(out, Estimand{Name: fmt.Sprintf("share not remade at %g d, %s", days, who), Ask: a.ask,
					Truth: t.Survival(method, a.cause, a.first, days), table: "at_times", where: at, events: at})
			}
			out = append(out, Estimand{Name: "day by which 25% are remade, " + who, Ask: a.ask, reading: quantile, Spread: a.spread[k],
				Truth: t.Lasting(method, a.cause, a.first, 0.25), table: "quantiles", where: Row{"group": method, "quantile": 0.25}, events: until},
				Estimand{Name: fmt.Sprintf("mean days in use within %d d, %s", a.until, who), Ask: a.ask,
					Truth: t.MeanInUse(method, a.cause, a.first, a.until), table: "rmst", where: Row{"group": method}, events: until, Short: skewed})
		}
		out = append(out, Estimand{Name: fmt.Sprintf("difference in mean days within %d d, %s, vacuum less hand", a.until, a.who), Ask: a.ask,
			Truth: t.MeanInUse(vacuum, a.cause, a.first, a.until) - t.MeanInUse(hand, a.cause, a.first, a.until), table: "rmst", where: Row{"group": "vacuum - hand"},
			events: Row{"group": vacuum, "time": a.until}, Short: skewed})
	}
	return out
}

func incidences(t example.Truth) []Estimand {
	var out []Estimand
	truth := func(cause, method, of string, days float64) float64 {
		switch of {
		case allRemakes:
			return t.Incidence(method, cause, false, days, t.Reasons()...)
		case died:
			return t.Died(method, cause, false, days)
		case otherwise:
			return t.EndedOtherwise(method, cause, false, days)
		case inUse:
			return t.InUse(method, cause, false, days)
		}
		return t.Incidence(method, cause, false, days, of)
	}
	for _, a := range []struct {
		ask, cause string
		of         []string
		times      []float64
		short      string
	}{
		{"endings", "trauma", []string{allRemakes, otherwise, inUse}, []float64{365, 730}, ""},
		{"reasons", "trauma", []string{volumeLoss, wear}, []float64{365, 730}, ""},
		{"endings-vascular", "vascular", []string{allRemakes, died, inUse}, []float64{365, 730}, fewPersons},
	} {
		for _, method := range []string{hand, vacuum} {
			for _, of := range a.of {
				for _, days := range a.times {
					at := Row{"group": method, "cause": of, "time": days}
					out = append(out, Estimand{Name: fmt.Sprintf("share ended by %s at %g d, later sockets, %s, %s", of, days, a.cause, method), Ask: a.ask,
						Truth: truth(a.cause, method, of, days), table: "at_times", where: at, events: at, Short: a.short})
					if of == inUse {
						out[len(out)-1].Name = fmt.Sprintf("share still in use at %g d, later sockets, %s, %s", days, a.cause, method)
					}
				}
			}
		}
	}
	return out
}

// component is a variance of a mixed model.
func component(ask, name, group string, term any, truth, spread float64) Estimand {
	return Estimand{Name: name, Ask: ask, Truth: truth, Spread: spread, table: "variance", reading: components,
		where: Row{"group": group, "term": term, "with": nil}}
}

// residualOf is the variance within groups that each have so many random
// effects.
func residualOf(ask, name string, random, truth float64) Estimand {
	m := component(ask, name, "residual", nil, truth, 0)
	m.reading, m.random = residual, random
	return m
}

func measures(t example.Truth) []Estimand {
	square := func(x float64) float64 { return x * x }
	const whole, tenth = 1.0 / 12, 0.01 / 12 // variance of rounding to 1 and to 0.1
	var out []Estimand
	for _, a := range []struct{ ask, how string }{{"comfort", ", clustered"}, {"comfort-mixed", ", mixed"}} {
		out = append(out,
			term(a.ask, "comfort, transtibial at ply 0"+a.how, "intercept", nil, t.ComfortIntercept),
			term(a.ask, "comfort per ply"+a.how, "ply", nil, t.ComfortPerPly),
			term(a.ask, "comfort, transfemoral"+a.how, "level", "transfemoral", t.ComfortLevel["transfemoral"]),
			term(a.ask, "comfort, knee disarticulation"+a.how, "level", "knee disarticulation", t.ComfortLevel["knee disarticulation"]),
			term(a.ask, "comfort, transradial"+a.how, "level", "transradial", t.ComfortLevel["transradial"]))
	}
	return append(out,
		component("comfort-mixed", "comfort, variance between persons", "person", "intercept", square(t.ComfortPersonSD), 0.032),
		residualOf("comfort-mixed", "comfort, variance within persons", 1, square(t.ComfortErrorSD)+whole),

		term("hours", "hours worn at delivery", "intercept", nil, t.HoursIntercept),
		term("hours", "hours worn, per month", "days_since_delivery", nil, t.HoursPerMonth),
		component("hours", "hours worn, variance between limbs", "limb", "intercept", square(t.HoursInterceptSD), 0.133),
		component("hours", "hours worn per month, variance between limbs", "limb", "days_since_delivery", square(t.HoursSlopeSD), 0.00036),
		residualOf("hours", "hours worn, variance within limbs", 2, square(t.HoursErrorSD)+tenth),

		term("ply", "ply at delivery, limbs done shrinking", "intercept", nil, t.PlyMean),
		term("ply", "ply per month, limbs done shrinking", "days_since_delivery", nil, t.PlyPerMonth),
		component("ply", "ply, variance between limbs", "limb", "intercept", square(t.PlySD), 0.130),
		residualOf("ply", "ply, variance within limbs", 1, square(t.PlyErrorSD)+whole),

		term("volume", "volume of a transtibial limb done shrinking, ml", "intercept", nil, t.VolumeMean["transtibial"]),
		term("volume", "volume, site Ferry Steps, ml", "site", "Ferry Steps", 0),
		component("volume", "volume, variance between limbs, ml²", "limb", "intercept", square(t.VolumeSD["transtibial"]), 5240),
	)
}

func workshop(t example.Truth) []Estimand {
	shareOf := func(ask, name string, truth float64, categories ...string) Estimand {
		return Estimand{Name: name, Ask: ask, Truth: truth, table: "rows", where: Row{"group": "all"}, count: categories, reading: share}
	}
	return []Estimand{
		shareOf("first-fit-before", "share of first-time fits, ordered before the practice change", t.FirstFitBefore, "yes"),
		shareOf("first-fit-after", "share of first-time fits, ordered after it", t.FirstFitAfter, "yes"),
		shareOf("accepted-before", "share of check sockets accepted, cast before it", t.FirstFitBefore, "yes", "adjusted"),
		shareOf("accepted-after", "share of check sockets accepted, cast after it", t.FirstFitAfter, "yes", "adjusted"),
		shareOf("as-is", "share of accepted check sockets that needed no adjusting", t.AsIs, "yes"),
		shareOf("skin", "share of visits with the skin looked at", t.SkinChecked, "yes"),
		shareOf("casting", "share of casts under vacuum", t.VacuumCast, vacuum),
		term("turnaround-before", "days from referral to delivery, ordered before it", "intercept", nil, t.Turnaround(t.FirstFitBefore)),
		term("turnaround-after", "days from referral to delivery, ordered after it", "intercept", nil, t.Turnaround(t.FirstFitAfter)),
	}
}
