package answer_test

import (
	"fmt"
	"math/rand/v2"
	"strings"
	"testing"
	"time"
)

// labOptions bend an invented lab's log out of shape.
type labOptions struct {
	persons  int
	visits   int  // visits of each socket
	noEvents bool // no socket ends
	allEnd   bool // every socket ends
	sameDay  bool // on the same day of its life
	zeroLife bool // on the day of its delivery
	checks   bool // check sockets only
	noVisits bool
	onePer   bool // every socket belongs to one person
	gap      bool // a year without a delivery
	method   func(i int) string
	own      func(i int) string // own column of sockets, "own thing"
	constant bool               // comfort and ply never change
}

func day(n int) string {
	return time.Date(2023, 1, 1, 0, 0, 0, 0, time.UTC).AddDate(0, 0, n).Format("2006-01-02")
}

var labReasons = []string{"remake: volume loss", "remake: pain or pressure", "remake: breakage or wear", "died", "unknown", "planned", "remake: shaping error", "lost to follow-up"}

// lab invents the log of a lab.
func lab(o labOptions) sheets {
	r := rand.New(rand.NewPCG(7, 11))
	if o.method == nil {
		o.method = func(i int) string { return []string{"hand", "vacuum"}[i%2] }
	}
	if o.visits == 0 {
		o.visits = 4
	}
	limbs := [][]string{{"person", "limb", "side", "level", "cause", "amputated", "born", "sex", "activity"}}
	sockets := [][]string{{"socket", "limb", "kind", "number", "use", "referred", "cast_on", "cast_method", "delivered", "ended", "end_reason", "thing"}}
	visits := [][]string{{"visit", "socket", "date", "purpose", "ply", "comfort", "accepted", "skin_checked", "action", "mass_kg"}}
	findings := [][]string{{"visit", "region", "finding", "severity"}}
	stations := [][]string{{"limb", "date", "landmark", "station_mm", "limb_mm", "model_mm", "socket"}}
	forming := [][]string{{"socket", "date", "sheet_material", "sheet_mm", "oven_c", "minutes"}}
	for i := range o.persons {
		p := i
		if o.onePer {
			p = 0
		}
		limb := fmt.Sprintf("P%d-L", p+1)
		if p == i {
			limbs = append(limbs, []string{fmt.Sprintf("P%d", p+1), limb, "left", []string{"TT", "TF"}[i%2], []string{"vascular", "trauma", "diabetes"}[i%3],
				day(-400 - 10*i), fmt.Sprint(1935 + 5*(i%13)), []string{"male", "female"}[i/2%2], []string{"K1", "K2", "K3"}[i%3]})
		}
		for k := range 1 + i%2 {
			s := fmt.Sprintf("S%d-%d", i+1, k+1)
			start := 20*i + 200*k
			if o.gap && start > 150 {
				start += 400
			}
			life := 60 + r.IntN(500)
			kind := "definitive"
			if o.checks {
				kind = "check"
			}
			row := []string{s, limb, kind, fmt.Sprint(k + 1), "everyday", day(start - 40 - r.IntN(30)), day(start - 20), o.method(i), day(start), "", "", ""}
			if o.sameDay {
				life = 100
			}
			if o.zeroLife {
				life = 0
			}
			if !o.noEvents && (o.allEnd || r.IntN(3) > 0) {
				row[9], row[10] = day(start+life), labReasons[r.IntN(len(labReasons))]
				if o.allEnd {
					row[10] = labReasons[r.IntN(3)]
				}
			}
			if o.own != nil {
				row[11] = o.own(i)
			}
			sockets = append(sockets, row)
			forming = append(forming, []string{s, day(start - 5), "PETG", "12", fmt.Sprint(150 + r.IntN(20)), fmt.Sprint(8 + r.IntN(5))})
			for st := range 4 {
				girth := 320 - 15*st + r.IntN(6)
				stations = append(stations, []string{limb, day(start - 20), "patella", fmt.Sprint(40 * st), fmt.Sprint(girth), fmt.Sprint(girth - 8), s})
				stations = append(stations, []string{limb, day(start + 50), "patella", fmt.Sprint(40 * st), fmt.Sprint(girth - 4), "", s})
			}
			for v := range o.visits {
				at := start + v*life/max(1, o.visits)
				purpose, accepted := []string{"delivery", "follow-up", "walk-in"}[min(v, 2)], ""
				if v == 0 {
					visits = append(visits, []string{s + "-c", s, day(start - 10), "check fitting", "", "", []string{"yes", "adjusted", "no"}[r.IntN(3)], "", "", ""})
				}
				id := fmt.Sprintf("%s-%d", s, v)
				ply, comfort := fmt.Sprint(1+v+r.IntN(3)), fmt.Sprint(8-r.IntN(4))
				if o.constant {
					ply, comfort = "3", "7"
				}
				visits = append(visits, []string{id, s, day(at), purpose, ply, comfort, accepted, []string{"yes", "no"}[r.IntN(2)], []string{"none", "pad added", "ground"}[r.IntN(3)], fmt.Sprint(70 + r.IntN(20))})
				if r.IntN(4) == 0 {
					findings = append(findings, []string{id, "fibular head", []string{"redness fading", "blister", "none"}[r.IntN(3)], fmt.Sprint(r.IntN(3))})
				}
			}
		}
	}
	out := sheets{"limbs": csvText(limbs), "sockets": csvText(sockets), "forming": csvText(forming), "stations": csvText(stations)}
	if !o.noVisits {
		out["visits"], out["findings"] = csvText(visits), csvText(findings)
	}
	return out
}

// everyAsk asks every method in many ways. Each is to be answered well or
// refused in plain words, whatever the log holds.
var everyAsk = []string{
	"method: cox\nby: cast_method\nadjust: [age, own.thing]\nmissing: impute\nimputations: 5",
	"method: cox\nadjust: [reduction_pct, cause, first_fit]\nstrata: [level]\nmissing: impute\nimputations: 5\ncluster: none",
	"method: linear\nrows: visits\noutcome: comfort\nadjust: [ply, mass_kg]\nmissing: impute\nimputations: 5",
	"method: watch\nahead: 90d\nevery: 90d\nresamples: 100\nadjust: [level]",
	"method: watch\nahead: 6m\nevery: 60d\nresamples: 100\nvarying: [comfort, ply]\nspline: {ply: 3}\nlisted: 5\nconfidence: 0.8",
	"method: watch\nahead: 1y\nresamples: 100\nadjust: [own.thing]\nevent: [remake, died]\ncompeting: [planned]",
	"method: kaplan-meier",
	"method: kaplan-meier\nby: cast_method\ntimes: [90d, 6m, 1y, 3y]",
	"method: kaplan-meier\nby: level\ntimes: [1y]\nuntil: 2y\nquantiles: [0.1, 0.5]\nbounds: logit\ncluster: none",
	"method: kaplan-meier\nby: own.thing\ntimes: [1y]",
	"method: kaplan-meier\nby: thing\nconfidence: 0.9\nbounds: log",
	"method: kaplan-meier\nby: sequence\nlandmark: 90d\ntimes: [1y]",
	"method: kaplan-meier\nby: ply\nlandmark: 90d",
	"method: kaplan-meier\nby: comfort",
	"method: kaplan-meier\nevent: {comfort: ..5}\nseen_as_exact: true\ntimes: [90d]",
	"method: kaplan-meier\nevent: {finding: blister}\nseen_as_exact: true\nby: cause",
	"method: kaplan-meier\nevent: [remake, died]\ntimes: [1y]",
	"method: kaplan-meier\nevent: early-remake\ntimes: [90d, 1y]",
	"method: kaplan-meier\nevent: [volume loss, limb-change]\nstart: cast_on\ntimes: [1y]",
	"method: kaplan-meier\nevent: unknown\nentry: cast_on",
	"method: kaplan-meier\nkeep: {level: syme}\ntimes: [1y]",
	"method: kaplan-meier\nkeep: {delivered: missing}",
	"method: kaplan-meier\nend: ended\nevent: remake\nbounds: untransformed\nby: site",
	"method: cumulative-incidence\nevent: [limb-change, making]\ntimes: [6m, 1y, 3y]",
	"method: cumulative-incidence\nevent: remake\nby: cast_method\ntimes: [1y]\nconfidence: 0.8",
	"method: cumulative-incidence\nevent: [\"remake: volume loss\"]\ncompeting: [died, making]\nby: own.thing",
	"method: cumulative-incidence\nevent: early-remake\nbounds: log",
	"method: cumulative-incidence\nevent: died\nlandmark: 60d\ncluster: limb",
	"method: fine-gray\nby: cast_method",
	"method: fine-gray\nby: cast_method\nadjust: [age, level]\nevent: [limb-change]\ntimes: [90d, 1y]\nprofiles: [{cast_method: hand, age: 60}, {cast_method: vacuum}]",
	"method: fine-gray\nadjust: [age, own.thing]\nevent: died\ncompeting: [remake]\nties: breslow\ncluster: none",
	"method: fine-gray\nby: level\nadjust: [age]\ninteract: [[level, age]]\nlandmark: 60d\nconfidence: 0.8",
	"method: fine-gray\nby: thing\nevent: early-remake",
	"method: fine-gray\nadjust: [ply]",
	"method: cox\nby: cast_method",
	"method: cox\nby: cast_method\nadjust: [age, level, cause, activity]\ntimes: [1y, 2y]\nprofiles: [{cast_method: hand, age: 60}, {cast_method: vacuum}]",
	"method: cox\nadjust: [age]\nstrata: [level]\ncluster: limb",
	"method: kaplan-meier\nby: cast_method\nstrata: [level]\ntests: [gehan-breslow, fleming-harrington-middle]\nhazard: 30d",
	"method: kaplan-meier\nby: number\ntrend: true\nuntil: 90d",
	"method: cumulative-incidence\nby: side\nuntil: 90d",
	"method: cox\nby: level\nadjust: [age]\ninteract: [[level, age]]\nties: breslow",
	"method: cox\nby: number\nfactors: [number]\nties: discrete",
	"method: cox\nadjust: [ply, comfort]\nlandmark: 90d",
	"method: cox\nadjust: [ply]",
	"method: cox\nby: cast_method\nadjust: [age]\nfrailty: gamma",
	"method: cox\nby: cast_method\nfrailty: log-normal\nshared_by: cause",
	"method: cox\nrows: limbs\nby: cause\nrepeats: gap-time\nfrailty: gamma",
	"method: cox\nby: cast_method\nvarying: [comfort]\nfrailty: log-normal",
	"method: cox\nby: cast_method\nadjust: [age, level, cause]\npenalty: ridge",
	"method: cox\nby: level\nvarying: [ply]\npenalty: ridge\npenalty_size: 3",
	"method: cox\nby: cast_method\nadjust: [age]\nsplit: {cast_method: 180d, age: [90d, 1y]}",
	"method: cox\nby: cast_method\nvarying: [ply]\nsplit: {ply: 60d}",
	"method: cox\nrows: limbs\nevent: {purpose: walk-in}\nadjust: [level, cause]\nrepeats: marginal\nstrata: [event_number]\nsplit: {level: event_number}",
	"method: cox\nrows: limbs\nadjust: [level]\nrepeats: gap-time\nsplit: {level: [30d, 90d]}\ncluster: none",
	"method: cox\nadjust: [liner_mm]",
	"method: cox\nadjust: [own.thing]",
	"method: cox\nby: cause\nreference: {cause: trauma}\nkeep: {kind: definitive}",
	"method: cox\nby: cause\nreference: {cause: traumatic}",
	"method: cox\nby: cast_method\nevent: {ply: 4..}\nseen_as_exact: true",
	"method: cox\nby: end_reason",
	"method: cox\nadjust: [age, months_since_amputation, sequence, fittings, reduction_pct, volume_ml, turnaround_days, ply_at_delivery, liner_mm]",
	"method: weibull",
	"method: weibull\nby: cast_method\nadjust: [age]\ninteract: [[cast_method, age]]\ntimes: [90d, 3y]",
	"method: exponential\nby: own.thing\nevent: [died, remake]\nquantiles: [0.1]",
	"method: log-normal\nadjust: [age, level, cause, activity, liner_mm]\nentry: cast_on",
	"method: log-normal\nadjust: [ply]\nlandmark: 90d",
	"method: log-logistic\nevent: {finding: blister}\nby: cause\ntimes: [1y]",
	"method: generalised-gamma",
	"method: weibull\nby: cast_method\ncompare: all\ntimes: [1y]",
	"method: log-normal\nevent: {ply: 4..}\ncompare: [exponential, generalised-gamma]\nadjust: [age]\nprofiles: [{age: 60}]\nquantiles: [0.1, 0.5]\ntimes: [30y]",
	"method: exponential\ncompare: [weibull]",
	"method: generalised-gamma\nevent: {comfort: ..5}\nby: cast_method\nadjust: [age]\ntimes: [90d, 3y]",
	"method: log-logistic\nby: number\nfactors: [number]\nprofiles: [{number: 1}]",
	"method: weibull\nby: thing\nprofiles: [{thing: unheard}]\ncluster: none",
	"method: exponential\nevent: {comfort: ..5}\nadjust: [months_since_amputation]\nprofiles: [{months_since_amputation: 9999999}]",
	"method: linear\nrows: visits\noutcome: comfort\nadjust: [ply, days_since_delivery]",
	"method: linear\nrows: visits\noutcome: comfort\nby: cast_method\nadjust: [age]\ninteract: [[cast_method, age]]\nprofiles: [{cast_method: hand}, {cast_method: unheard, age: 40}]",
	"method: linear\nrows: sockets\noutcome: volume_change_pct\nby: cause\ncluster: none",
	"method: linear\nrows: sockets\noutcome: turnaround_days\nadjust: [age, level, cause, cast_method, activity, sex, sequence, reduction_pct, volume_ml]",
	"method: linear\nrows: sockets\noutcome: liner_mm\nadjust: [age]",
	"method: linear\nrows: stations\noutcome: limb_mm\nadjust: [station_mm]\ncluster: limb",
	"method: linear\nrows: sockets\noutcome: turnaround_days\nby: thing",
	"method: linear\nrows: forming\noutcome: oven_c\nadjust: [minutes]",
	"method: linear\nrows: findings\noutcome: severity\nby: region",
	"method: logistic\nrows: sockets\noutcome: first_fit\nby: cast_method\nadjust: [age, level]\ndiagnostics: yes",
	"method: logistic\nrows: visits\noutcome: {comfort: 7..}\nby: cast_method\nadjust: [ply]\nspline: {ply: 3}\nprofiles: [{ply: 3}]",
	"method: logistic\nrows: visits\noutcome: {action: none}\nadjust: [ply, days_since_delivery]\nintervals: profile",
	"method: logistic\nrows: sockets\noutcome: early_remake\nby: own.thing\npenalty: firth\nadjusted: yes",
	"method: logistic\nrows: sockets\noutcome: {end_reason: known}\nby: cause\ncontrasts: {cause: every pair}\nadjust_p: holm",
	"method: logistic\nrows: limbs\noutcome: {sex: male}\nadjust: [age, cause, activity]\npenalty: none",
	"method: logistic\nrows: stations\noutcome: {limb_mm: 300..}\nadjust: [station_mm]\ncluster: none\ndiagnostics: yes",
	"method: logistic\nrows: visits\noutcome: {comfort: 7..}\nadjust: [ply]\ncorrelation: ar1",
	"method: poisson\nrows: visits\noutcome: socks\nby: cast_method\ncorrelation: exchangeable\ndiagnostics: yes",
	"method: logistic\nrows: findings\noutcome: bony\nby: finding",
	"method: ordinal\nrows: visits\noutcome: comfort\nby: cast_method\nadjust: [ply]\nprofiles: [{ply: 3}]",
	"method: ordinal\nrows: visits\noutcome: accepted\norder: [\"no\", adjusted, \"yes\"]\nby: cast_method\nunequal: [cast_method]",
	"method: ordinal\nrows: findings\noutcome: severity\nby: region\nadjust: [age]\nspline: {age: 3}\ncluster: none",
	"method: ordinal\nrows: limbs\noutcome: sex\norder: [female, male]\nadjust: [age]",
	"method: ordinal\nrows: sockets\noutcome: age\nby: own.thing",
	"method: poisson\nrows: limbs\nevent: {purpose: walk-in}\nby: cause\nadjust: [age]\ndiagnostics: yes",
	"method: poisson\nrows: persons\nevent: remake\nby: sex\nintervals: profile",
	"method: poisson\nrows: sockets\noutcome: fittings\nby: cast_method\nprofiles: [{cast_method: hand}]",
	"method: poisson\nrows: sockets\noutcome: fittings\nexposure: follow_up_days\nadjust: [age]\nspline: {age: 3}\npenalty: firth",
	"method: poisson\nrows: sockets\nevent: {finding: blister}\nby: own.thing\npenalty: none",
	"method: poisson\nrows: visits\noutcome: minutes\nby: cast_method\ndiagnostics: yes",
	"method: negative-binomial\nrows: limbs\nevent: {finding: [blister, pain]}\nby: level\nadjust: [sex]\ndiagnostics: yes",
	"method: negative-binomial\nrows: sockets\noutcome: fittings\nby: cast_method\ncluster: none\ncontrasts: {cast_method: every pair}",
	"method: negative-binomial\nrows: visits\noutcome: socks\nadjust: [age, ply]\nintervals: profile",
	"method: mixed\nrows: visits\noutcome: ply\ntime: days_since_delivery",
	"method: mixed\nrows: visits\noutcome: comfort\ntime: days_since_delivery\nslopes: [days_since_delivery]\nby: level\nscale: months",
	"method: mixed\nrows: visits\noutcome: ply\ntime: days_since_delivery\nscale: log-weeks\nestimate: ml\nwithin: person",
	"method: mixed\nrows: stations\noutcome: limb_mm\nadjust: [station_mm]\nprofiles: [{station_mm: 40}]",
	"method: mixed\nrows: sockets\noutcome: turnaround_days\nby: cast_method",
	"method: mixed\nrows: visits\noutcome: ply_change\ntime: days_since_delivery\nadjust: [comfort, mass_kg]\nprofiles: [{days_since_delivery: 100}]",
	"method: mixed\nrows: visits\noutcome: volume_change_pct\ntime: days_since_delivery",
	"method: mixed\nrows: visits\noutcome: comfort\ntime: days_since_delivery\nnested_in: person\ncrossed: [cast_method]\ntest_random: yes",
	"method: mixed\nrows: visits\noutcome: ply\ntime: days_since_delivery\nwithin: socket\nnested_in: limb\nscatter_by: purpose\ncorrelation: ar1\ntest_random: yes",
	"method: pareto\nrows: sockets\nby: end_reason\nevent: remake",
	"method: pareto\nrows: sockets\nby: thing",
	"method: pareto\nrows: findings\nby: region",
	"method: pareto\nrows: visits\nby: action",
	"method: pareto\nrows: visits\nby: actions\nweights: minutes\npool_below: 10%",
	"method: pareto\nrows: sockets\nby: end_reason\nchange: 2024-01-01",
	"method: pareto\nrows: visits\nby: actions\nchange: 2024-06-01\nweights: minutes",
	"method: pareto\nrows: sockets\nby: age",
	"method: control-chart\nrows: sockets\nnumerator: {first_fit: yes}\ndenominator: {first_fit: known}\nperiod: quarter\nbaseline_points: 3\ngoal: 75%\nbetter: higher",
	"method: control-chart\nrows: sockets\nnumerator: {early_remake: yes}\nperiod: quarter",
	"method: control-chart\nrows: sockets\noutcome: turnaround_days\nperiod: month",
	"method: control-chart\nrows: sockets\noutcome: liner_mm\nperiod: month",
	"method: control-chart\nrows: sockets\noutcome: turnaround_days\nperiod: case",
	"method: control-chart\nrows: visits\nnumerator: count\nperiod: month\nlate_entry: 60d",
	"method: control-chart\nrows: visits\nnumerator: {purpose: walk-in}\nexposure: socket-months\nperiod: quarter",
	"method: control-chart\nrows: findings\nnumerator: count\nexposure: checked-visits\nchart: u\nperiod: quarter",
	"method: control-chart\nrows: sockets\nnumerator: {early_remake: yes}\nchart: g",
	"method: control-chart\nrows: sockets\nnumerator: {end_reason: known}\ndated: ended\nchart: t\nbetter: higher",
	"method: control-chart\nrows: sockets\nnumerator: {kind: definitive}\nchart: g\nbetween: days",
	"method: control-chart\nrows: sockets\nnumerator: {first_fit: yes}\nperiod: year\noverdispersed: yes",
	"method: control-chart\nrows: sockets\noutcome: fittings\nchart: u\nperiod: year",
	"method: cumulative-sum\nrows: sockets\nnumerator: {early_remake: yes}\nexpected: 10%\nfalse_alarm: 90d",
	"method: cumulative-sum\nrows: sockets\nnumerator: {first_fit: yes}\nstrata: level\nfalse_alarm: 90d\nbaseline_points: 3",
	"method: funnel\nrows: sockets\nby: cast_method\nnumerator: {first_fit: yes}\nstrata: level",
	"method: funnel\nrows: sockets\nby: cast_method\nnumerator: {early_remake: yes}\nadjust: [level, age]",
	"method: funnel\nrows: visits\nby: cast_method\nnumerator: count\nexposure: socket-months\noverdispersed: yes",
	"method: segmented\nrows: visits\nnumerator: {purpose: walk-in}\nexposure: socket-months\nchange: 2024-01-01",
	"method: segmented\nrows: visits\noutcome: comfort\nchange: 2024-06-01\nseasonal: yes",
	"method: segmented\nrows: sockets\nnumerator: {first_fit: yes}\nchange: 2024-06-01\ntransition: 90d",
	"method: completeness\nrows: visits\ncolumns: [ply, comfort, thing]\ngoal: 90%",
	"method: completeness\nrows: persons\ncolumns: [age, sex]",
	"method: forecast\nrows: sockets",
	"method: forecast\nrows: visits\nby: purpose\nperiod: quarter\nseasonal: yes\nahead: 6m",
	"method: forecast\nrows: sockets\ndated: cast_on\nperiod: year\ncourse: trend",
	"method: control-chart\nrows: visits\nnumerator: count\nchart: xmr\nperiod: month\nbetter: lower",
	"method: control-chart\nrows: visits\nnumerator: {purpose: walk-in}\nperiod: year",
	"method: control-chart\nrows: visits\nnumerator: {comfort: ..10}\ndenominator: {comfort: known}",
	"method: control-chart\nrows: limbs\nnumerator: {sex: male}\ndated: amputated\nperiod: year",
	"method: control-chart\nrows: persons\nnumerator: {sex: male}\nperiod: year",
	"method: control-chart\nrows: sockets\nnumerator: {kind: definitive}\nchart: xmr\ndated: ended\nperiod: quarter",
	"method: reduction",
	"method: reduction\nby: thing\nregion: thing",
	"method: reduction\nby: cast_method\nkeep: {kind: definitive}",
	"method: forming-log",
	"method: forming-log\ngood: [fine]\nranges: {material: PETG, oven_c: 160..175, source: x}",
	"method: summary\ncolumns: [age, level, cause, turnaround_days, delivered, thing, liner_mm]",
	"method: summary\nrows: persons\ncolumns: [age, sex]\nby: sex",
	"method: summary\ncolumns: [age, level]\nby: cast_method",
	"method: summary\ncolumns: [age]\nby: thing",
	"method: summary\nrows: visits\ncolumns: [ply, comfort, action]\nby: level",
	"method: summary\nrows: findings\ncolumns: [region, bony]",
	"method: flow",
	"method: flow\nevent: remake\nkeep: {kind: definitive, age: 18..}",
	"method: flow\nevent: [died]\nlandmark: 90d",
	"method: flow\nrows: visits\nkeep: {any: [{comfort: ..5}, {ply: 5..}]}",
	"method: flow\nevent: {ply: 5..}\nseen_as_exact: true",
	"method: turnbull\nevent: {comfort: ..5}\ntimes: [90d, 1y]",
	"method: turnbull\nevent: {finding: blister}\nby: cast_method\ntimes: [6m]",
	"method: turnbull\nevent: {ply: 4..}\nby: own.thing",
	"method: fine-gray\nevent: limb-change\nby: cast_method\nadjust: [age]",
	"method: fine-gray\nevent: [making]\nadjust: [age, cause]\ntimes: [1y]\nprofiles: [{age: 60}]",
	"method: fine-gray\nevent: died\nby: own.thing",
	"method: weibull\nevent: remake\nby: cast_method\ntimes: [1y]\nprofiles: [{cast_method: hand}]",
	"method: log-normal\nevent: remake\nadjust: [age, level]",
	"method: log-logistic\nevent: {ply: 4..}\nby: cause",
	"method: exponential\nevent: remake\nby: own.thing",
	"method: exponential\nevent: {finding: blister}\nby: cast_method",
	"method: cox\nadjust: [age, cast_method]\npenalty: firth",
	"method: cox\nby: cast_method\npenalty: none",
	"method: cox\nby: own.thing\nstrata: [level]\npenalty: firth\nconfidence: 0.8",
	"method: cox\nby: own.thing\nties: discrete\npenalty: none",
	// What can only be refused.
	"method: kaplan-meier\nby: cast_methd",
	"method: kaplan-meier\nby: volume_change_pct",
	"method: kaplan-meier\nby: died",
	"method: kaplan-meier\nkeep: {levle: TT}",
	"method: kaplan-meier\nkeep: {age: old}",
	"method: kaplan-meier\nevent: remak",
	"method: kaplan-meier\nevent: early-remake\nlandmark: 400d",
	"method: kaplan-meier\nevent: [early-remake, died]",
	"method: kaplan-meier\nstart: level",
	"method: kaplan-meier\nlandmark: 90000d",
	"method: cumulative-incidence\nevent: [remake, \"remake: volume loss\"]",
	"method: cumulative-incidence\nevent: [making]\ncompeting: [remake]",
	"method: cox\nby: level\nprofiles: [{level: hip}]\ntimes: [1y]",
	"method: logistic\nrows: visits\noutcome: comfort\nadjust: [ply]",
	"method: logistic\nrows: visits\noutcome: {comfrt: 5..}\nadjust: [ply]",
	"method: logistic\nrows: sockets\noutcome: delivered\nadjust: [age]",
	"method: poisson\nrows: visits\noutcome: mass_kg\nadjust: [ply]",
	"method: poisson\nrows: sockets\noutcome: fittings\nexposure: level\nadjust: [age]",
	"method: negative-binomial\nrows: limbs\nevent: remak\nby: cause",
	"method: linear\nrows: visits\noutcome: comfort\nadjust: [date]",
	"method: linear\nrows: visits\noutcome: purpose\nadjust: [ply]",
	"method: linear\nrows: visits\noutcome: comfort\nadjust: [ply]\ncluster: persn",
	"method: mixed\nrows: visits\noutcome: comfort\ntime: date",
	"method: mixed\nrows: visits\noutcome: comfort\ntime: days_since_delivery\nwithin: limbb",
	"method: control-chart\nrows: findings\nnumerator: {finding: blister}\ndated: level",
	"method: summary\ncolumns: [agee]",
	"method: summary\ncolumns: [age]\nby: delivered",
}

var evenWords = []string{"a", "b"}

// labs are logs bent in every way that a lab's log can be.
func labs() map[string]sheets {
	long := strings.Repeat("a very long name of a casting method that goes on ", 8)
	odd := []string{"🦿 emoji", "\"quoted\"", "=cmd|'/c calc'!A0", "<script>alert(1)</script>", "+44", "-x", "@x", "a\tb", "%d %s", "\u202egnihtyna"}
	header := func(t string) string { return lab(labOptions{persons: 1})[t] }
	first := func(s string) string { return strings.SplitN(s, "\n", 2)[0] + "\n" }
	emptyLog := sheets{}
	for _, n := range []string{"limbs", "sockets", "visits", "findings", "stations", "forming"} {
		emptyLog[n] = first(header(n))
	}
	return map[string]sheets{
		"empty":                 emptyLog,
		"limbs only":            {"limbs": header("limbs")},
		"one row":               lab(labOptions{persons: 1, visits: 1}),
		"two rows":              lab(labOptions{persons: 2, visits: 1}),
		"usual":                 lab(labOptions{persons: 60, own: func(i int) string { return evenWords[i%2] }}),
		"no events":             lab(labOptions{persons: 30, noEvents: true, own: func(i int) string { return evenWords[i%2] }}),
		"all end":               lab(labOptions{persons: 30, allEnd: true}),
		"all at one time":       lab(labOptions{persons: 30, allEnd: true, sameDay: true}),
		"lives of 0 days":       lab(labOptions{persons: 30, allEnd: true, zeroLife: true}),
		"check sockets only":    lab(labOptions{persons: 30, checks: true}),
		"no visits":             lab(labOptions{persons: 30, noVisits: true}),
		"one person":            lab(labOptions{persons: 30, onePer: true}),
		"gap":                   lab(labOptions{persons: 40, gap: true}),
		"one group":             lab(labOptions{persons: 30, method: func(int) string { return "hand" }, own: func(int) string { return "same" }}),
		"group missing":         lab(labOptions{persons: 30, method: func(int) string { return "" }}),
		"13 groups":             lab(labOptions{persons: 39, method: func(i int) string { return fmt.Sprintf("m%d", i%13) }, own: func(i int) string { return fmt.Sprintf("g%02d", i%13) }}),
		"40 groups":             lab(labOptions{persons: 40, method: func(i int) string { return fmt.Sprintf("m%d", i) }, own: func(i int) string { return fmt.Sprintf("g%02d", i) }}),
		"separation":            lab(labOptions{persons: 30, method: func(i int) string { return map[bool]string{true: "x", false: "y"}[i == 3] }, own: func(i int) string { return fmt.Sprint(i == 3) }}),
		"own numbers":           lab(labOptions{persons: 30, own: func(i int) string { return fmt.Sprint(-7 + i%5) }}),
		"own constant number":   lab(labOptions{persons: 30, own: func(int) string { return "4" }}),
		"own huge numbers":      lab(labOptions{persons: 30, own: func(i int) string { return fmt.Sprintf("%d", 1000000000*(i+1)) }}),
		"own tiny numbers":      lab(labOptions{persons: 30, own: func(i int) string { return fmt.Sprintf("0.0000000%d", i+1) }}),
		"odd characters":        lab(labOptions{persons: 40, method: func(i int) string { return odd[i%len(odd)] }, own: func(i int) string { return odd[i%len(odd)] }}),
		"very long names":       lab(labOptions{persons: 30, method: func(i int) string { return long + evenWords[i%2] }, own: func(i int) string { return long + evenWords[i%2] }}),
		"constant measurements": lab(labOptions{persons: 30, constant: true}),
	}
}

var fronts = map[string]string{
	"quality":           "audience: quality",
	"research":          "audience: research\nlog_since: 2023-03-01\nto: 2025-06-30",
	"annual":            "audience: annual\nfrom: 2023-06-01",
	"after all of it":   "audience: quality\nfrom: 2040-01-01\nto: 2041-01-01",
	"before all of it":  "audience: quality\nto: 2001-01-01",
	"everything is new": "audience: annual\nlog_since: 2024-06-01\nhide_below: 0",
}

// forAll are the logs of which everything is asked for every reader.
var forAll = map[string]bool{"empty": true, "one row": true, "usual": true, "no visits": true, "odd characters": true, "one person": true}

// TestEveryMethodOnEveryLog asks everything of every log for every reader:
// each answer holds to the invariants of answers.
func TestEveryMethodOnEveryLog(t *testing.T) {
	for name, s := range labs() {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			log := readLog(t, s)
			for front, text := range fronts {
				if front != "quality" && (testing.Short() || !forAll[name]) {
					continue
				}
				var asks []string
				for i, a := range everyAsk {
					asks = append(asks, fmt.Sprintf("id: a%d\n%s", i, a))
				}
				ask := answersOnce
				if front == "quality" {
					ask = answersOf
				}
				got := ask(t, log, nil, text, asks...)
				if len(got) != len(everyAsk) {
					t.Fatalf("%s: %d answers to %d asks", front, len(got), len(everyAsk))
				}
			}
		})
	}
}
